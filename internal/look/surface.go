package look

// Surface is what one place of the printed sheet is to a lamp: the colour a 45/0 instrument sees and what
// makes it shine. It is the hand-over from the layers below to relighting, and what the maps hold.
//
// R45, Metal are linear sRGB (IEC 61966-2-1 primaries, D65; a perfect diffuser is 1, 1, 1). R45 may leave 0..1
// where a toner glows or is more vivid than a screen.
type Surface struct {
	R45        [3]float32 // radiance factor with the lamp at 45 degrees, seen from above
	Metal      [3]float32 // amplitude of the flakes' lobe per colour, 0 where no metal is in sight
	MetalShare float32    // share of the area where flakes are in sight, 0..1
	MetalAlpha float32    // width of the flakes' lobe (GGX alpha), 0..1; means nothing where MetalShare is 0
	CoatAlpha  float32    // width of the lobe of the top surface: small is glossy
}
