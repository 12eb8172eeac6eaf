package check

import "laydown/internal/finding"

// Rules of the group Reading name what the readers and painters tell, so that definitions can change its
// severity and remedies are known. They look at nothing themselves.

func met(id finding.ID, measures, source string, sev []finding.Severity, remedies ...string) Rule {
	return Rule{ID: id, Group: Reading, Measures: measures, Source: source, Severities: sev, Remedies: remedies}
}

var (
	anySeverity = []finding.Severity{finding.Note, finding.Warning, finding.Error}
	asRead      = "ISO 32000-2; what is read otherwise than written is told"
)

// readingRules are what is met on reading and decides what is printed. Readers tell more, of damage they could mend
// and of limits; such findings keep their severity.
var readingRules = []Rule{
	met("font-not-embedded", "fonts that type is set in and that have no font program in the file", "ISO 15930-7 (PDF/X-4) asks for every font that marks to be embedded (from memory)", anySeverity, "embed-needed"),
	met("font-glyph-missing", "characters that the font of their type does not hold", asRead, anySeverity),
	met("font-damaged", "font programs that could not be read in full", asRead, anySeverity),
	met("file-repaired", "files whose table of objects was rebuilt by looking through them", asRead, anySeverity),
	met("content-damaged", "page content that ends early or cannot be decoded", asRead, anySeverity),
	met("operator-damaged", "drawing instructions with missing or wrong values, which are skipped", asRead, anySeverity),
	met("resource-missing", "fonts, images, colours and patterns that content names and the file does not hold", asRead, anySeverity),
	met("image-data-damaged", "images whose data could not be decoded in full", asRead, anySeverity),
	met("image-data-short", "images with less data than their size asks for", asRead, anySeverity),
	met("transfer-function", "objects drawn under a transfer function, which plates leave out", "ISO 32000-2, 10.5", anySeverity),
	met("process-conversion-naive", "RGB, Lab and ICC colours converted by plain arithmetic, as neither press nor file has a CMYK profile", "ISO 32000-2, 10.4", anySeverity),
	met("output-intent-differs", "files prepared for another printing condition than the profile of the press", "ISO 32000-2, 14.11.5", anySeverity),
}
