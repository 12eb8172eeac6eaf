package truth

// notCompared are files no fair comparison can be made of, each with the reason.
var notCompared = map[string]string{
	"itext-dotnet__exponentialXObjectLoop.pdf": "runs past every limit in all three programs",
}

// daily are the files the ordinary test run compares, chosen for what they hold: spots in images, DeviceN,
// overprint, soft masks, groups, fonts; `make truth` takes all.
var daily = map[string]bool{
	"ghostpdl__duotone.pdf":                                            true,
	"ghostpdl__tritone.pdf":                                            true,
	"ghostpdl__text_graph_image_cmyk_rgb.pdf":                          true,
	"itext-dotnet__deviceN8bit5Channels.pdf":                           true,
	"itext-dotnet__cmp_colorTest08.pdf":                                true,
	"pdfbox__FANTASTICCMYK.ai.pdf":                                     true,
	"pdfcpu__adobe_supplement_iso32000_1.pdf":                          true,
	"PyMuPDF__test_4943.pdf":                                           true,
	"pdf-reader__large_single_line_content_stream.pdf":                 true,
	"PdfPig.Rendering.Skia__GWG166_Softmasks_Images_DeviceCMYK_X4.pdf": true,
	"pdf.js__knockout_nested_group_alpha.pdf":                          true,
	"serenity__type1.pdf":                                              true,
	"pdf-reader__vertical-text-in-identity-v.pdf":                      true,
}

// explained tells, by file and plate ("" = all plates), which clause decides a difference.
var explained = map[[2]string]string{
	{"PdfPig.Rendering.Skia__GWG090_Font-Support_x3.pdf", "Black"}: "a page of nothing but small type: 10.7.4 lets a device paint every pixel a glyph touches, " +
		"which both interpreters do at 600 dpi; ours is the exact area, a quarter pixel thinner all round at 150 dpi",
	{"PdfPig.Rendering.Skia__GHOSTSCRIPT-702013-1.pdf", ""}: "the text is in an ICCBased space whose profile is a Lab one (Tables 65 to 67); the mutool compared with has no ICC and takes L*, a*, b* for R, G, B",
	{"itext-dotnet__labDctTransparancyMask.pdf", ""}:        "a Lab image: each converts Lab its own way (8.6.5.4 with 10.4 leaves the device's part open)",
}

func explain(r *Row) string {
	if s, ok := explained[[2]string{r.File, r.Plate}]; ok {
		return s
	}
	if r.Verdict() == "both" {
		return ""
	}
	return explained[[2]string{r.File, ""}]
}
