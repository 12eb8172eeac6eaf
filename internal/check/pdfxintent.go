package check

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

var pdfxIntentUnfit = Rule{
	ID:    "pdfx-intent-unfit",
	Group: Document,
	Measures: "the output intents of PDF/X of files that call themselves PDF/X-4 or PDF/X-6: one, with the profile in the file unless the version's last letter says it lies " +
		"outside, of the class of output profiles, for gray, RGB or CMYK",
	Source:     "ISO 15930-7 (PDF/X-4) and 15930-9 (PDF/X-6), from memory; ISO 32000-2, 14.11.5; ICC.1, 7.2 (header)",
	Severities: []finding.Severity{finding.Warning},
	File: func(_ context.Context, c *Case) error {
		if c.Doc == nil {
			return nil
		}
		claim := c.pdfxClaim()
		intents := c.pdfxIntents()
		if !claimsLive(claim) || len(intents) == 0 {
			return nil
		}
		var points []string
		if len(intents) > 1 {
			points = append(points, fmt.Sprintf("it names %d of them", len(intents)))
		}
		outside := strings.HasSuffix(claim, "p") || strings.HasSuffix(claim, "n")
		for _, d := range intents {
			if p := c.intentFault(d, outside); p != "" && !slices.Contains(points, p) {
				points = append(points, p)
			}
		}
		c.falseClaim(fmt.Sprintf("The file calls itself %s, but its output intent cannot be gone by", claim), points,
			"The output intent says what the CMYK numbers of the file look like; without a sound one each receiver takes another profile.",
			"Export the file again as PDF/X-4 with the output profile of the press embedded.")
		return nil
	},
}

// claimsLive reports whether a claim is of a version with live transparency, which must carry its profile.
func claimsLive(claim string) bool {
	return strings.HasPrefix(claim, "PDF/X-4") || strings.HasPrefix(claim, "PDF/X-6")
}

// pdfxIntents lists the output intents of PDF/X in the catalogue, else those of the first page.
func (in *Input) pdfxIntents() (found []pdf.Dict) {
	holders := []pdf.Dict{in.Doc.Catalog()}
	if p, err := in.Doc.Page(1); err == nil {
		holders = append(holders, p.Dict)
	}
	for _, d := range holders {
		list, _ := in.Doc.Array(d["OutputIntents"])
		for _, o := range list[:min(len(list), 64)] {
			if i, ok := in.Doc.Dict(o); ok {
				if s, _ := in.Doc.Name(i["S"]); s == "GTS_PDFX" {
					found = append(found, i)
				}
			}
		}
		if len(found) > 0 {
			return found
		}
	}
	return nil
}

// intentFault tells what is wrong with the profile of an output intent, "" for nothing.
func (in *Input) intentFault(d pdf.Dict, outside bool) string {
	class, space, ok := in.intentProfile(d)
	switch {
	case !ok && in.Doc.Resolve(d["DestOutputProfile"]) != nil:
		return "its profile is no ICC profile"
	case !ok && outside && in.Doc.Resolve(d["DestOutputProfileRef"]) != nil:
		return ""
	case !ok && outside:
		return "it neither holds its profile nor says which it is"
	case !ok:
		return "its profile is not in the file"
	case class != "prtr":
		return fmt.Sprintf("its profile is of class %q, not that of an output device", printableName(class))
	case space != "GRAY" && space != "RGB " && space != "CMYK":
		return fmt.Sprintf("its profile is for %q, not for gray, RGB or CMYK", printableName(space))
	}
	return ""
}

// intentProfile reads class and device space from the header of an intent's embedded profile (ICC.1, 7.2).
func (in *Input) intentProfile(d pdf.Dict) (class, space string, ok bool) {
	s, ok := in.Doc.Stream(d["DestOutputProfile"])
	if !ok {
		return "", "", false
	}
	data, err := in.Doc.Data(s)
	if err != nil || len(data) < 128 || string(data[36:40]) != "acsp" {
		return "", "", false
	}
	return string(data[12:16]), string(data[16:20]), true
}
