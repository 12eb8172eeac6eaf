package image

import (
	"errors"
	"fmt"

	"laydown/internal/artwork/image/jbig2"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
)

// jbig2 finishes a JBIG2Decode image (7.4.7): in the data black is 1, in the samples it is 0.
func (d *decoding) jbig2(im *Image, data []byte, parms pdf.Dict) (*Image, error) {
	var globals []byte
	if s, ok := d.r.doc.Stream(parms["JBIG2Globals"]); ok {
		var err error
		if globals, err = d.r.doc.Data(s); err != nil {
			d.damaged("image-data-damaged", fmt.Sprintf("What several JBIG2 images share is damaged: %v.", err), "Parts of the images may be missing in print.")
		}
	}
	if err := d.bilevel(im, "JBIG2"); err != nil {
		return nil, err
	}
	page, damage, err := jbig2.Decode(data, globals, im.Width, im.Height)
	if err != nil {
		return nil, jbig2Error(err)
	}
	if damage != nil {
		d.report(finding.Finding{ID: "image-data-damaged", Severity: finding.Warning, Class: classOf(jbig2Error(damage)), Incomplete: true,
			What: fmt.Sprintf("Part of the JBIG2 data of an image of %d x %d pixels cannot be read: %v.", im.Width, im.Height, damage), Why: "Part of the image is missing in print."})
	}
	if page.W != im.Width || page.H != im.Height {
		d.sizeDiffers(im, page.W, page.H)
	}
	invert(page.Pix)
	return im, d.fit(im, page.Pix)
}

func jbig2Error(err error) error {
	switch {
	case errors.Is(err, jbig2.ErrUnsupported):
		return fmt.Errorf("%w: %w", ErrUnsupported, err)
	case errors.Is(err, jbig2.ErrTooLarge):
		return fmt.Errorf("%w: %w", ErrTooLarge, err)
	}
	return err
}
