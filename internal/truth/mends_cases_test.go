package truth

import "laydown/internal/pdfbuild"

// withoutCase says of a remedy and a finding why no case shows it.
var withoutCase = map[string]string{
	"laydown-overprint drawn-order-differs-from-laydown": "the finding is on toners that both stay; the remedy makes them stay, and the order is then the press's",
}

const (
	trimmed    = "/TrimBox [6 6 42 42] /BleedBox [0 0 48 48]"
	underWhite = "wishes: {underlay: [{toner: White, under: [process], choke: 0.1mm}]}"
)

var moon = spot{"M", pdfbuild.Spot("Moon#20Dust", 0, .1, .4, .3)}

// mendCases are in the order remedies are applied in.
func mendCases() []mendCase {
	return []mendCase{
		{use: "rename-colourant:from=white,to=White", answers: "colourant-name-nearly-right", offered: true,
			spots: []spot{{"Low", pdfbuild.Spot("white", .25, 0, 0, .1)}}, probe: probe{name: "rename",
				content: "/Low cs 1 scn 20 20 40 40 re f .5 scn 60 20 20 40 re f 0 .5 .2 0 k 10 70 40 20 re f"}},
		{use: "rename-colourant:from=white,to=White", answers: "colourant-name-nearly-right", offered: true,
			spots: []spot{{"Low", pdfbuild.Spot("white", .25, 0, 0, .1)}, {"list", "[/white /Silver]"}, {"kinds", "<< /white {Low} /Silver {S} >>"},
				{"attributes", "<< /Subtype /NChannel /Colorants {kinds} >>"}, {"Mix", "[/DeviceN {list} /DeviceCMYK {tint} {attributes}]"}},
			probe: probe{name: "rename: mixture", streams: []probeStream{{"tint", "/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ exch pop 0 exch 0 exch 0 }"}},
				content: "/Mix cs .5 .8 scn 20 20 40 40 re f /Low cs 1 scn 60 60 30 30 re f"}},
		{use: "merge-colourants:from=Moon Dust,to=Silver", answers: "colourant-unknown", offered: true,
			spots: []spot{moon}, probe: probe{name: "merge: unknown", content: "/M cs 1 scn 20 20 40 40 re f .5 scn 60 20 20 40 re f /S cs 1 scn 30 30 20 20 re f"}},
		{use: "merge-colourants:from=Sterling,to=Silver", answers: "one-look-two-names", offered: true,
			spots: []spot{{"T", pdfbuild.Spot("Sterling", 0, 0, 0, .45)}}, probe: probe{name: "merge: one look",
				content: "/T cs 1 scn 20 20 40 40 re f /S cs 1 scn 40 40 40 40 re f"}},
		{use: "one-definition:colourant=Silver", answers: "colourant-definitions-differ", offered: true,
			spots: []spot{{"S2", pdfbuild.Spot("Silver", .3, .1, .1, .3)}}, probe: probe{name: "one definition",
				content: "/S cs 1 scn 20 20 40 40 re f /S2 cs .5 scn 40 40 40 40 re f"}},
		{use: "to-toner:toner=Gold,colour=stand-in", answers: "stand-in-in-process-colour", offered: true,
			probe: probe{name: "to toner", content: "0 .5 0 0 k 10 10 60 60 re f .2 .35 .8 .15 k 20 20 40 40 re f .2 .35 .8 .15 K 4 w 80 10 m 80 90 l S"}},
		{use: "to-process:toner=Moon Dust", answers: "colourant-unknown", offered: true,
			spots: []spot{moon}, probe: probe{name: "to process: unknown", content: "/S cs 1 scn 10 10 60 60 re f /M cs 1 scn 20 20 40 40 re f .5 scn 60 20 20 40 re f"}},
		{use: "to-process:toner=All", answers: "registration-colour-inside-trim", offered: true,
			spots: []spot{{"Every", pdfbuild.Spot("All", 0, 0, 0, 1)}}, probe: probe{name: "to process: registration colour", page: trimmed,
				content: "/S cs 1 scn 20 20 20 60 re f /Every cs 1 scn 30 30 40 20 re f"}},
		{use: "to-process:toner=Moon Dust", answers: "mixture-names-missing-toner", offered: true,
			spots: []spot{moon, {"Mix", "[/DeviceN [/Silver /Moon#20Dust] /DeviceCMYK {tint} << /Colorants << /Moon#20Dust {M} >> >>]"}},
			probe: probe{name: "to process: mixture", streams: []probeStream{{"tint", "/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", "{ exch pop 0 exch 0 exch 0 }"}},
				content: "/Mix cs .5 .8 scn 20 20 40 40 re f /Au cs 1 scn 60 60 30 30 re f"}},
		{use: "clip-tints:toner=Silver", answers: "tint-outside-range", offered: true,
			probe: probe{name: "clip tints", content: "/S cs .1 scn 20 20 30 60 re f .6 scn 50 20 30 60 re f"}},
		{use: "lighten-pile:limit=260%", answers: "pile-over-limit", offered: true,
			probe: probe{name: "lighten", content: ".9 .8 .8 .9 k 10 10 50 50 re f .5 .5 .2 0 k 60 60 30 30 re f"}},
		{use: "overprint-on:toner=Clear", answers: "must-overprint-knocks-out", offered: true,
			probe: probe{name: "overprint", content: "0 .5 .2 0 k 10 10 50 50 re f /S cs 1 scn 10 60 50 30 re f /Off gs /C cs 1 scn 30 20 40 60 re f"}},
		{use: "multiply-on:toner=Clear", answers: "must-overprint-knocks-out", offered: true,
			probe: probe{name: "multiply", streams: []probeStream{group("veil", "", "/Off gs /C cs 1 scn 30 20 40 60 re f")}, xobjects: "/Veil {veil}",
				content: "0 .5 .2 0 k 10 10 50 50 re f /S cs 1 scn 10 60 50 30 re f /Veil Do"}},
		{use: "spare-underlay:toner=White,under=process", answers: "process-on-dark-stock", offered: true, job: underWhite,
			probe: probe{name: "spare: dark stock", content: "/W cs 1 scn 20 20 60 60 re f /On gs /S cs 1 scn 20 20 60 20 re f /Off gs 0 .5 .2 0 k 20 30 60 50 re f"}},
		{use: "spare-underlay:toner=White,under=process", answers: "special-knocked-out-by-later-object", offered: true, job: underWhite,
			probe: probe{name: "spare: knocked out", content: "/W cs 1 scn 20 20 60 60 re f .4 0 .2 0 k 30 30 40 40 re f"}},
		{use: "laydown-overprint:toner=White",
			probe: probe{name: "laydown order", content: "/Au cs 1 scn 20 20 40 40 re f /Off gs /W cs 1 scn 40 40 40 40 re f"}},
		{use: "knock-out:toner=White,over=Gold", answers: "covered-by-later-toner", offered: true,
			probe: probe{name: "knock out: covered", content: "0 .5 .2 0 k 10 10 80 20 re f /Au cs 1 scn 20 20 40 40 re f /On gs /W cs 1 scn 40 20 40 40 re f"}},
		{use: "knock-out:toner=Clear,over=Silver", answers: "toners-never-on-each-other", never: "Silver",
			probe: probe{name: "knock out: never on", content: "/S cs 1 scn 20 20 40 40 re f /On gs /C cs 1 scn 40 20 40 40 re f"}},
		// A width and places that fall on whole pixels of the interpreters.
		{use: "thicken-lines:toner=Silver,to=0.96pt", answers: "line-too-thin",
			probe: probe{name: "thicken", content: "0 .5 .2 0 k 10 10 50 50 re f /S CS 1 SCN .4 w 20 20 m 80 20 l 80 80 l S"}},
		{use: "thicken-lines:toner=Silver,to=0.96pt", answers: "line-of-no-width",
			probe: probe{name: "thicken: no width", content: "0 .5 .2 0 k 10 10 50 50 re f /S CS 1 SCN 0 w 20 20 m 80 20 l 80 80 l S"}},
		{use: "choke-underlay:toner=White", answers: "white-peeks-out", offered: true, job: underWhite,
			probe: probe{name: "choke underlay", loose: true, content: "/W cs 1 scn 20 20 60 60 re f /On gs 0 .5 .2 0 k 20 20 60 60 re f"}},
		{use: "drop-hidden-layers:layer=Sketch", answers: "colourant-on-hidden-layers-only", offered: true,
			catalog: "/OCProperties << /OCGs [{hidden}] /D << /OFF [{hidden}] >> >>",
			probe:   probe{name: "hidden layers: colourant", content: "0 .5 .2 0 k 10 10 50 50 re f /OC /Hidden BDC /S cs 1 scn 30 30 40 40 re f EMC .2 0 0 0 k 60 60 30 30 re f"}},
		{use: "drop-hidden-layers", answers: "layers-differ-in-viewer", offered: true,
			catalog: "/OCProperties << /OCGs [{hidden}] /D << /OFF [{hidden}] /AS [<< /Event /Print /Category [/Print] /OCGs [{hidden}] >>] >> >>",
			probe:   probe{name: "hidden layers: viewer", content: "0 .5 .2 0 k 10 10 50 50 re f /OC /Hidden BDC /S cs 1 scn 30 30 40 40 re f EMC .2 0 0 0 k 60 60 30 30 re f"}},
		{use: "drop-hidden-layers:layer=Sketch", answers: "hidden-layers", offered: true,
			catalog: "/OCProperties << /OCGs [{hidden}] /D << /OFF [{hidden}] >> >>",
			probe:   probe{name: "hidden layers: note", content: "/OC /Hidden BDC 1 0 0 0 k 30 30 40 40 re f EMC /S cs 1 scn 60 60 30 30 re f"}},
		{use: "set-boxes", answers: "finished-size-unclear", offered: true, job: "finished: {width: 12mm, height: 12mm}\nbleed: 2mm",
			probe: probe{name: "boxes", content: "0 .5 .2 0 k 0 0 100 100 re f /S cs 1 scn 30 30 40 40 re f"}},
		{use: "embed-needed", answers: "font-not-embedded", offered: true,
			probe: probe{name: "embed", loose: true, fonts: "/F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
				content: "0 .5 .2 0 k 10 10 50 50 re f /S cs 1 scn BT /F 30 Tf 10 60 Td (Hag) Tj ET"}},
		{use: "add-bleed:edges=right", answers: "bleed-missing", offered: true, job: "finished: {width: 12.7mm, height: 12.7mm}\nbleed: 2mm",
			probe: probe{name: "bleed", loose: true, page: trimmed, content: "0 .5 .2 0 k 40 30 47.5 40 re f /S cs 1 scn 70 40 17.5 10 re f"}},
		{use: "make-underlay:toner=White", answers: "process-on-dark-stock", offered: true,
			probe: probe{name: "underlay: dark stock", loose: true, content: "0 .5 .2 0 k 20 20 60 60 re f /S cs 1 scn 40 40 20 20 re f"}},
		{use: "make-underlay:toner=White", answers: "toner-asked-for-unused", offered: true, job: underWhite,
			probe: probe{name: "underlay: asked for", loose: true, content: "0 .5 .2 0 k 20 20 60 60 re f"}},
		{use: "make-underlay:toner=White", answers: "white-too-thin", offered: true,
			probe: probe{name: "underlay: too thin", loose: true, content: "/W cs .7 scn 20 20 60 60 re f /On gs 0 .5 .2 0 k 20 20 60 60 re f"}},
		{use: "make-underlay:toner=White,under=Fluorescent Pink,layer=White under Fluorescent Pink", answers: "fluorescent-without-white", offered: true, press: "five-station", stock: "kraft",
			spots: []spot{{"P", pdfbuild.Spot("Fluorescent#20Pink", 0, .8, 0, 0)}}, probe: probe{name: "underlay: fluorescent", loose: true,
				content: "/P cs 1 scn 20 20 60 60 re f 0 0 0 1 k 40 40 20 20 re f"}},
		{use: "make-underlay:toner=White,under=Silver,layer=White under Silver", answers: "metal-on-bare-stock", offered: true,
			probe: probe{name: "underlay: metal", loose: true, content: "/S cs 1 scn 20 20 60 60 re f 0 0 0 1 k 40 40 20 20 re f"}},
		{use: "make-underlay:toner=White,as=bitmap,dpi=300", answers: "process-on-dark-stock",
			probe: probe{name: "underlay: bitmap", loose: true, content: "0 .5 .2 0 k 20 20 60 60 re f"}},
		{use: "make-underlay:toner=White,as=image,tint=coverage,dpi=300", answers: "",
			probe: probe{name: "underlay: image", loose: true, content: "0 .5 .2 0 k 20 20 60 60 re f 0 .9 .2 0 k 40 40 20 20 re f"}},
		{use: "make-clear:toner=Clear,over=flood", answers: "toner-asked-for-unused", job: "wishes: {clear: [{toner: Clear, over: [Picture]}]}",
			probe: probe{name: "clear", content: "0 .5 .2 0 k 20 20 60 60 re f /S cs 1 scn 40 40 20 20 re f"}},
	}
}
