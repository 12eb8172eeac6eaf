package check

import (
	"context"
	"fmt"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

var pdfxIdentityDiffers = Rule{
	ID:         "pdfx-identity-differs",
	Group:      Document,
	Measures:   "the version of PDF/X in the Info dictionary against that in the XMP metadata, and versions told where their part of the standard does not look",
	Source:     "ISO 15930-7 (PDF/X-4): in XMP only; ISO 15930-1, -3, -4 and -6 (PDF/X-1a and PDF/X-3): in Info; from memory",
	Severities: []finding.Severity{finding.Warning},
	File: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		info, xmp := c.pdfxInInfo(), c.pdfxInXMP()
		var what string
		switch {
		// Info names the part with its year, "PDF/X-1a:2003" or "PDF/X-1:2001", XMP since then the bare version.
		case info != "" && xmp != "" && bareVersion(info) != bareVersion(xmp):
			what = fmt.Sprintf("The file calls itself %s in one place and %s in another", info, xmp)
		case xmp == "" && claimsLive(info):
			what = fmt.Sprintf("The file calls itself %s only where programs for that version do not look (Info, not XMP)", info)
		default:
			return nil
		}
		c.Add(finding.Finding{
			Severity: finding.Warning,
			What:     what + ".",
			Why:      "Receivers choose by this name whether transparency and layers are kept or flattened first, and how colours are converted.",
			Remedy:   "Export the file again as one version of PDF/X.",
		})
		return nil
	},
}

func bareVersion(claim string) string {
	v, _, _ := strings.Cut(claim, ":")
	return v
}

// xmp is the metadata of the file, nil for none.
func (in *Input) xmp() []byte {
	s, ok := in.Doc.Stream(in.Doc.Catalog()["Metadata"])
	if !ok {
		return nil
	}
	data, err := in.Doc.Data(s)
	if err != nil {
		return nil
	}
	return data
}

// infoText is a string or name of the Info dictionary, "" for none.
func (in *Input) infoText(key pdf.Name) string {
	info, _ := in.Doc.Dict(in.Doc.Trailer()["Info"])
	switch v := in.Doc.Resolve(info[key]).(type) {
	case pdf.String:
		return printableName(string(v))
	case pdf.Name:
		return printableName(string(v))
	}
	return ""
}
