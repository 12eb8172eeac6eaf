// Package look tells how plates look once printed: plates, toners in laydown order and a stock
// become reflectances, those become CIELAB and a picture.
//
// # The model
//
// Every toner is a layer with absorption and scatter (Kubelka and Munk); the stock is the ground.
// Layers are computed below the front surface, whose reflection is taken off measured colours and
// put on again once at the top (Saunderson, for 45/0 instruments). A tint covers part of the area:
// every combination of present and absent toners, stacked in laydown order, is a primary, weighted
// by its share of the area (Demichel), and the primaries are averaged as square roots (Yule and
// Nielsen, n = 2), because light wanders sideways in the stock. Colours given as Lab are lifted to
// the smoothest reflectance that has them (Burns, least hyperbolic tangent slope squared).
// So a white laid over a gold hides it, a gold over a white shows, and the order in which the press
// lays toners decides, not the order of the artwork. All this is reckoned at 36 bands and sampled at
// twelve of them for mixing (mixbands.go): solids and overprints keep their colour exactly, mixtures within 0.1 CIEDE2000.
//
// A layer is made of the best that is known: spectra or colours on white and on black, a colour and an opacity, a colour
// on white, or the kind of toner (toner.go); Model.Knowledge tells which, and how sure the picture is. A metal is opaque,
// part of its colour the lobe of its flakes as its flop index tells, weakened by what lies above (metal.go). A clear takes
// front reflection away by its smoother surface (gloss.go). A fluorescent glows besides reflecting (fluorescent.go): colours
// given for it mean both together. Process toners may be one step that knows all overprints, from a
// characterisation (process.go, processmodel.go). Thin stock and film are layers themselves: what lies behind shows, the print of
// the other side mirrored and softened (sides.go, behind.go).
//
// # Pictures
//
// PictureSink shows the sheet as a 45/0 instrument sees it. LitSink shows it under a lamp, from what each place is to one
// (Surface): a diffuse part, the lobe of metal flakes and that of the top surface, so tied together that the
// instrument's lamp gives the 45/0 colour exactly (shade.go). Flakes glint one by one where few lie under a pixel, and
// the glint changes no mean (glint.go). Highlights are compressed above what the sheet reflects without shine; colours
// a screen cannot show are brought into its gamut, keeping hue, and counted (gamut.go). From these come strips of several
// angles, pairs of pictures, animations, and maps that a viewer can light anew (docs/maps.md); HeatSink shows amounts of
// toner. All are the same bytes for any number of workers and however bands are cut. Plates that are no layer of the
// model are not shown.
package look
