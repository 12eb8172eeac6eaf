package image

import (
	"errors"
	"fmt"
	"math"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
)

const remedyExport = "Export the artwork again, or place the image anew in the design program."

// decoding is the work on one image dictionary.
type decoding struct {
	r        *Reader
	s        *pdf.Stream
	findings *[]finding.Finding
	depth    int // bits of the data's own samples when they were scaled to those of the image; 0 = they were not
}

func (d *decoding) report(f finding.Finding) {
	f.Place.Object = d.s.Ref.Num
	if f.Remedy == "" {
		f.Remedy = remedyExport
	}
	*d.findings = append(*d.findings, f)
}

// damaged reports a malformed image that is drawn as well as can be.
func (d *decoding) damaged(id finding.ID, what, why string) {
	d.report(finding.Finding{ID: id, Severity: finding.Warning, Class: finding.Malformed, What: what, Why: why, Incomplete: true})
}

// role is what an image is read as.
type role uint8

const (
	baseImage role = iota
	softMask
	stencilMask
)

func (r *Reader) decode(s *pdf.Stream, space colour.Space, spaceErr error) (got result) {
	d := &decoding{r: r, s: s, findings: &got.findings}
	got.image, got.err = d.image(baseImage, space, spaceErr)
	if got.err != nil {
		got.image = nil
		return got
	}
	d.masks(got.image)
	return got
}

// image decodes the stream without its masks.
func (d *decoding) image(as role, space colour.Space, spaceErr error) (*Image, error) {
	doc, dict := d.r.doc, d.s.Dict
	im := &Image{Ref: d.s.Ref}
	var okW, okH bool
	im.Width, okW = doc.Int(dict["Width"])
	im.Height, okH = doc.Int(dict["Height"])
	if !okW || !okH || im.Width <= 0 || im.Height <= 0 {
		return nil, errors.New("the image has no size")
	}
	if err := checkSize(im.Width, im.Height); err != nil {
		return nil, err
	}
	im.Stencil = as == stencilMask || as == baseImage && d.r.isStencil(d.s)
	im.Interpolate, _ = doc.Bool(dict["Interpolate"])
	if name, ok := doc.Name(dict["Intent"]); ok {
		im.Intent, im.HasIntent = colour.IntentFromName(string(name))
	}
	data, rest, err := doc.ImageData(d.s)
	if err != nil {
		switch {
		case errors.Is(err, pdf.ErrUnsupportedFilter):
			return nil, fmt.Errorf("%w: %w", ErrUnsupported, err)
		case errors.Is(err, pdf.ErrBudget):
			return nil, fmt.Errorf("%w: %w", ErrTooLarge, err)
		case len(data) == 0:
			return nil, err
		}
		d.damaged("image-data-damaged", fmt.Sprintf("The data of an image is damaged: %v.", err), "Part of the image is missing in print.")
	}
	im.Filter = d.filter(rest)
	if len(rest) > 1 {
		return nil, fmt.Errorf("%w: %s after %s", ErrUnsupported, rest[1].Name, rest[0].Name)
	}
	im.Space = d.space(as, space, spaceErr)
	if len(rest) == 0 {
		return d.plain(im, as, data)
	}
	switch rest[0].Name {
	case "DCTDecode":
		return d.photo(im, as, data, rest[0].Parms)
	case "CCITTFaxDecode":
		return d.fax(im, data, rest[0].Parms)
	case "JBIG2Decode":
		return d.jbig2(im, data, rest[0].Parms)
	case "JPXDecode":
		return d.jpeg2000(im, as, data)
	}
	return nil, fmt.Errorf("%w: %s", ErrUnsupported, rest[0].Name)
}

func checkSize(w, h int) error {
	if w > limits.MaxImageSide || h > limits.MaxImageSide || w*h > limits.MaxImagePixels {
		return fmt.Errorf("%w: %d x %d pixels", ErrTooLarge, w, h)
	}
	return nil
}

// filter is the name of the last filter of the chain.
func (d *decoding) filter(rest []pdf.Filter) string {
	if len(rest) > 0 {
		return string(rest[len(rest)-1].Name)
	}
	if chain, err := d.r.doc.Filters(d.s); err == nil && len(chain) > 0 {
		return string(chain[len(chain)-1].Name)
	}
	return ""
}

// space is the space samples are read in; nil for stencils and when it has to be guessed from the data.
func (d *decoding) space(as role, space colour.Space, err error) colour.Space {
	switch as {
	case softMask:
		return colour.Gray
	case stencilMask:
		return nil
	}
	if d.r.isStencil(d.s) {
		return nil
	}
	if err == nil && space != nil && space.Family() == colour.FamilyPattern {
		space, err = nil, errors.New("a pattern space")
	}
	if err != nil {
		d.damaged("image-colour-space-damaged", fmt.Sprintf("The colour space of an image cannot be used: %v.", err),
			"Its colours are guessed from the number of samples.")
		return nil
	}
	return space
}

// plain finishes an image whose data is packed samples.
func (d *decoding) plain(im *Image, as role, data []byte) (*Image, error) {
	im.Bits = d.bits(im, as)
	if im.Space == nil && !im.Stencil {
		im.Space = guessSpace(len(data), im)
		d.noSpace(im.Space)
	}
	d.decodeArray(im)
	return im, d.fit(im, data)
}

func (d *decoding) noSpace(s colour.Space) {
	if d.s.Dict["ColorSpace"] == nil {
		d.damaged("image-colour-space-missing", fmt.Sprintf("An image does not say its colour space; it is read as %s.", s),
			"It may print in other colours than the design program shows.")
	}
}

// guessSpace finds the device space that fits the length of the data best.
func guessSpace(n int, im *Image) colour.Space {
	for _, s := range []colour.Space{colour.CMYK, colour.RGB} {
		if stride := (im.Width*s.Components()*im.Bits + 7) / 8; n >= stride*im.Height {
			return s
		}
	}
	return colour.Gray
}

func (d *decoding) bits(im *Image, as role) int {
	if im.Stencil {
		return 1
	}
	bits, ok := d.r.doc.Int(d.s.Dict["BitsPerComponent"])
	switch {
	case ok && (bits == 1 || bits == 2 || bits == 4 || bits == 8 || bits == 16):
		return bits
	case !ok:
		d.damaged("image-depth-missing", "An image does not say how many bits its samples have; it is read with 8.", "It may print as noise.")
	default:
		d.damaged("image-depth-wrong", fmt.Sprintf("An image has samples of %d bits, which is not allowed; it is read with 8.", bits), "It may print as noise.")
	}
	return 8
}

// decodeArray fills im.Decode (8.9.5.2).
func (d *decoding) decodeArray(im *Image) {
	n := im.Components()
	if im.Space == nil {
		im.Decode = []float64{0, 1}
	} else {
		im.Decode = colour.DefaultDecode(im.Space, im.Bits)
	}
	o := d.s.Dict["Decode"]
	if o == nil {
		return
	}
	v, ok := d.r.doc.Nums(o)
	if !ok || len(v) < 2*n {
		d.damaged("image-decode-damaged", "The Decode array of an image does not fit its colour space and is left out.", "The image may print inverted.")
		return
	}
	im.Decode = v[:2*n]
}

// fit makes im.Data exactly as long as the image, padding with white.
func (d *decoding) fit(im *Image, data []byte) error {
	stride := im.Stride()
	need := stride * im.Height
	if need > limits.MaxStreamBytes {
		return fmt.Errorf("%w: %d bytes of samples", ErrTooLarge, need)
	}
	if len(data) >= need {
		im.Data = data[:need:need]
		return nil
	}
	d.short(im, len(data), need)
	im.Data = make([]byte, need)
	copy(im.Data, data)
	perRow := im.Width * im.Components()
	y := len(data) / stride
	x := min((len(data)-y*stride)*8/im.Bits, perRow)
	whiten(im, x, y)
	return nil
}

func (d *decoding) short(im *Image, have, need int) {
	d.report(finding.Finding{ID: "image-data-short", Severity: finding.Warning, Class: finding.Malformed,
		What:    fmt.Sprintf("An image of %d x %d pixels is cut short: %.0f %% of it is there.", im.Width, im.Height, math.Floor(100*float64(have)/float64(need))),
		Why:     "The rest of it prints as nothing.",
		Figures: map[string]float64{"bytes": float64(have), "bytes_needed": float64(need)}, Incomplete: true})
}

// whiten sets all samples from sample x of row y on to what paints no toner: for a stencil what
// does not paint, for an alpha of DeviceGray what is opaque.
func whiten(im *Image, x, y int) {
	if y >= im.Height {
		return
	}
	n := im.Components()
	whitenSamples(im, y, x, im.Width*n)
	whitenArea(im, 0, y+1, im.Width, im.Height)
}

// whitenArea does so for pixels x0 <= x < x1 of rows y0 <= y < y1.
func whitenArea(im *Image, x0, y0, x1, y1 int) {
	n := im.Components()
	for y := y0; y < y1; y++ {
		whitenSamples(im, y, x0*n, x1*n)
	}
}

// whitenSamples does so for samples from <= i < to of row y.
func whitenSamples(im *Image, y, from, to int) {
	n := im.Components()
	white := make([]int, n)
	for c := range white {
		white[c] = whiteSample(im, c)
	}
	stride := im.Stride()
	row := im.Data[y*stride : (y+1)*stride]
	for i := from; i < to; i++ {
		v := white[i%n]
		switch im.Bits {
		case 8:
			row[i] = byte(v)
		case 16:
			row[2*i], row[2*i+1] = byte(v>>8), byte(v)
		default:
			at := i * im.Bits
			shift := 8 - im.Bits - at%8
			row[at/8] = row[at/8]&^(byte(1<<im.Bits-1)<<shift) | byte(v)<<shift
		}
	}
}

// whiteSample is the raw sample that Decode maps nearest to white (no tint, for a stencil: not painted).
func whiteSample(im *Image, c int) int {
	want := 1.0
	if im.Space != nil {
		switch im.Space.Family() {
		case colour.FamilyCMYK, colour.FamilySeparation, colour.FamilyDeviceN, colour.FamilyIndexed:
			want = 0
		case colour.FamilyLab:
			want = 0
			if c == 0 {
				want = 100
			}
		case colour.FamilyICC:
			if im.Components() == 4 {
				want = 0
			}
		}
	}
	d0, d1 := im.Decode[2*c], im.Decode[2*c+1]
	if d0 == d1 {
		return 0
	}
	top := float64(int(1)<<im.Bits - 1)
	return int(math.Round(max(0, min(1, (want-d0)/(d1-d0))) * top))
}

// masks reads SMask and Mask (8.9.6, 11.6.5.3).
func (d *decoding) masks(im *Image) {
	if im.Stencil {
		return
	}
	doc := d.r.doc
	if v, ok := doc.Int(d.s.Dict["SMaskInData"]); ok && v != 0 && im.Filter == "JPXDecode" {
		if im.SoftMask != nil {
			return // it overrides the others (Table 87)
		}
		d.damaged("image-alpha-missing", "An image says that its transparency is inside its own data, but there is none.", "It prints opaque.")
	}
	if s, ok := doc.Stream(d.s.Dict["SMask"]); ok {
		d.softMask(im, s)
		if im.SoftMask != nil {
			return
		}
	}
	switch m := doc.Resolve(d.s.Dict["Mask"]).(type) {
	case *pdf.Stream:
		inner := &decoding{r: d.r, s: m, findings: d.findings}
		mask, err := inner.image(stencilMask, nil, nil)
		if err != nil {
			d.maskFailed(err)
			return
		}
		im.Mask = mask
	case pdf.Array:
		d.colourKey(im, m)
	}
}

func (d *decoding) softMask(im *Image, s *pdf.Stream) {
	inner := &decoding{r: d.r, s: s, findings: d.findings}
	mask, err := inner.image(softMask, nil, nil)
	if err != nil {
		d.maskFailed(err)
		return
	}
	im.SoftMask = mask
	o := s.Dict["Matte"]
	if o == nil {
		return
	}
	matte, ok := d.r.doc.Nums(o)
	switch {
	case !ok || len(matte) != im.Components():
		d.damaged("image-matte-damaged", "The matte colour of an image does not fit its colour space and is left out.", "Soft edges may print with a fringe.")
	case mask.Width != im.Width || mask.Height != im.Height:
		d.damaged("image-matte-damaged", "An image with a matte colour and its soft mask differ in size; the matte colour is left out.", "Soft edges may print with a fringe.")
	default:
		im.Matte = matte
	}
}

func (d *decoding) maskFailed(err error) {
	d.report(finding.Finding{ID: "image-mask-unreadable", Severity: finding.Error, Class: classOf(err),
		What: fmt.Sprintf("The mask of an image cannot be read: %v.", err),
		Why:  "The image prints without it, as a full rectangle.", Incomplete: true})
}

func classOf(err error) finding.Class {
	switch {
	case errors.Is(err, ErrUnsupported):
		return finding.Unsupported
	case errors.Is(err, ErrTooLarge):
		return finding.OverLimit
	}
	return finding.Malformed
}

// colourKey reads a colour key mask: pairs of raw samples (8.9.6.4).
func (d *decoding) colourKey(im *Image, a pdf.Array) {
	v, ok := d.r.doc.Nums(a)
	n := im.Components()
	if !ok || len(v) < 2*n {
		d.damaged("image-colour-key-damaged", "The colour key of an image does not fit its colour space and is left out.", "The image prints as a full rectangle.")
		return
	}
	top := float64(int(1)<<im.Bits - 1)
	if d.depth > 0 {
		for i := range v { // samples between two bounds stay between them
			v[i] = math.Round(v[i] * top / float64(int(1)<<d.depth-1))
		}
	}
	key := make([]int, 2*n)
	for i := range n {
		// Kept as an interval that may be empty: bounds beyond the samples are pulled to just outside.
		key[2*i] = int(max(0, min(top+1, math.Ceil(v[2*i]))))
		key[2*i+1] = int(max(-1, min(top, math.Floor(v[2*i+1]))))
	}
	im.ColourKey = key
}
