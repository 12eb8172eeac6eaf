// Package look tells how plates look once printed: plates, toners in laydown order and a stock
// become reflectances in twelve wavelength bands, those become CIELAB and a picture.
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
// lays toners decides, not the order of the artwork.
//
// # What is plain here
//
// The picture is the sheet as a 45/0 instrument sees it. A metal is an opaque layer of its 45/0
// colour without glint or darkening by angle; a clear only deepens what is below by its smoother
// surface; a fluorescent is a plain reflectance, which stops at what a surface can reflect without
// glowing. Colours a screen cannot show are brought into its gamut, keeping hue, and counted. Plates that are no
// layer of the model are not shown.
package look
