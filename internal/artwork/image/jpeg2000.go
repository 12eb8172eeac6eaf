package image

import (
	"errors"
	"fmt"

	"laydown/internal/artwork/colour"
	"laydown/internal/artwork/image/jpx"
	"laydown/internal/artwork/pdf"
	"laydown/internal/finding"
	"laydown/internal/limits"
)

// jpeg2000 finishes a JPXDecode image (7.4.9): depth, and when the dictionary has none also the
// colour space, come from the data; Decode counts for masks only.
func (d *decoding) jpeg2000(im *Image, as role, data []byte) (*Image, error) {
	f, err := jpx.Parse(data)
	if err != nil {
		return nil, jpxError(err)
	}
	convert := false
	if im.Space == nil && !im.Stencil {
		im.Space, convert = d.jpxSpace(f)
	}
	opt := jpx.Options{Alpha: -1, MaxBytes: limits.MaxStreamBytes}
	n := im.Components()
	if im.Space != nil && im.Space.Family() == colour.FamilyIndexed || im.Stencil {
		opt.Raw = true
	}
	colours := f.ColourChannels()
	if opt.Raw {
		colours = len(f.Channels)
	}
	if colours < n {
		if device := deviceSpace(colours); device != nil && as == baseImage && !im.Stencil {
			d.damaged("image-components-differ", fmt.Sprintf("An image in %s is a JPEG 2000 of %d components; it is read as %s.", im.Space, colours, device),
				"It may print in other colours than the design program shows.")
			im.Space, n, opt.Raw = device, colours, false
		} else {
			return nil, fmt.Errorf("JPEG 2000 data of %d components in an image of %d", colours, n)
		}
	}
	for c := range n {
		opt.Channels = append(opt.Channels, c)
	}
	inside, _ := d.r.doc.Int(d.s.Dict["SMaskInData"])
	if as == baseImage && !im.Stencil && (inside == 1 || inside == 2) {
		opt.Alpha = f.Opacity()
		if opt.Alpha < 0 && len(f.Channels) > n { // no channel definition: the one after the colours
			opt.Alpha = n
		}
	}
	p, err := f.Decode(opt)
	if err != nil {
		return nil, jpxError(err)
	}
	if p.Damage != nil {
		d.damaged("image-data-damaged", fmt.Sprintf("The JPEG 2000 data of an image of %d x %d pixels is damaged or cut short.", im.Width, im.Height),
			"Part of the image is missing or blurred in print.")
	}
	if p.Width != im.Width || p.Height != im.Height {
		d.sizeDiffers(im, p.Width, p.Height)
	}
	im.Bits, im.Data = p.Bits, p.Data
	if !opt.Raw {
		d.depth = f.Channels[0].Precision
	}
	if im.Stencil {
		im.Bits, im.Data = 1, stencilBits(p)
	}
	if im.Stencil || as == softMask {
		d.decodeArray(im)
	} else {
		im.Decode = colour.DefaultDecode(im.Space, im.Bits)
	}
	if convert {
		rgbFromSYCC(im)
	}
	for _, r := range p.Missing {
		whitenRect(im, r)
	}
	if p.Alpha != nil {
		d.jpxAlpha(im, p, inside == 2)
	}
	return im, nil
}

// jpxAlpha makes the opacity inside the data the image's soft mask (Table 87, SMaskInData).
func (d *decoding) jpxAlpha(im *Image, p *jpx.Picture, premultiplied bool) {
	im.SoftMask = &Image{Width: p.Width, Height: p.Height, Bits: p.Bits, Space: colour.Gray, Decode: []float64{0, 1}, Data: p.Alpha, Ref: im.Ref, Filter: im.Filter}
	for _, r := range p.Missing {
		whitenRect(im.SoftMask, r)
	}
	if premultiplied && im.Space.Family() != colour.FamilyIndexed {
		for c := range im.Components() { // samples were multiplied, so what lies behind is sample 0
			im.Matte = append(im.Matte, im.Decode[2*c])
		}
	}
}

func jpxError(err error) error {
	switch {
	case errors.Is(err, jpx.ErrUnsupported):
		return fmt.Errorf("%w: %w", ErrUnsupported, err)
	case errors.Is(err, jpx.ErrTooLarge):
		return fmt.Errorf("%w: %w", ErrTooLarge, err)
	}
	return err
}

// jpxSpace is the colour space the data itself names; convert tells that samples are YCC still.
// Of several specifications the first that can be used counts.
func (d *decoding) jpxSpace(f *jpx.File) (s colour.Space, convert bool) {
	n := f.ColourChannels()
	for _, c := range f.Colours {
		switch c.Enumerated {
		case 0:
			profile := d.r.doc.NewInlineStream(pdf.Dict{"N": pdf.Integer(n)}, c.Profile)
			if s, err := d.r.spaces.Space(pdf.Array{pdf.Name("ICCBased"), profile}, nil); err == nil && s.Components() <= n {
				return s, false
			}
		case jpx.SpaceSRGB:
			s = colour.RGB
		case jpx.SpaceSYCC:
			s, convert = colour.RGB, true
		case jpx.SpaceGray:
			s = colour.Gray
		case jpx.SpaceCMYK:
			s = colour.CMYK
		case jpx.SpaceLab: // the ranges that hold when the box names none, of white D50
			s = &colour.Lab{White: [3]float64{0.9642, 1, 0.8249}, Limits: [4]float64{-85, 85, -75, 125}}
		}
		if s != nil && s.Components() <= n {
			return s, convert
		}
		s, convert = nil, false
	}
	s = deviceSpace(n)
	if s == nil {
		s = colour.Gray
	}
	d.noSpace(s)
	return s, false
}

func deviceSpace(n int) colour.Space {
	switch n {
	case 1:
		return colour.Gray
	case 3:
		return colour.RGB
	case 4:
		return colour.CMYK
	}
	return nil
}

// sizeDiffers takes the size of the data for that of the image.
func (d *decoding) sizeDiffers(im *Image, w, h int) {
	d.report(finding.Finding{ID: "image-size-differs", Severity: finding.Note, Class: finding.Malformed,
		What: fmt.Sprintf("The file says %d x %d pixels for an image whose own data has %d x %d.", im.Width, im.Height, w, h),
		Why:  "The data's own size is used."})
	im.Width, im.Height = w, h
}

// stencilBits packs samples of one component: 0 stays 0, all else is 1.
func stencilBits(p *jpx.Picture) []byte {
	stride := (p.Width + 7) / 8
	out := make([]byte, stride*p.Height)
	size := p.Bits / 8
	for y := range p.Height {
		for x := range p.Width {
			at := (y*p.Width + x) * size
			if p.Data[at]|p.Data[at+size-1] != 0 {
				out[y*stride+x/8] |= 0x80 >> (x % 8)
			}
		}
	}
	return out
}

// rgbFromSYCC converts in place (IEC 61966-2-1 Amendment 1; the matrix is that of JFIF).
func rgbFromSYCC(im *Image) {
	if im.Bits == 8 {
		for i := 0; i+2 < len(im.Data); i += 3 {
			p := im.Data[i : i+3 : i+3]
			rgbPixel(p, p[0], p[1], p[2])
		}
		return
	}
	at := func(i int) int64 { return int64(im.Data[i])<<8 | int64(im.Data[i+1]) }
	for i := 0; i+5 < len(im.Data); i += 6 {
		y, b, r := at(i)<<16+1<<15, at(i+2)-1<<15, at(i+4)-1<<15
		for c, v := range [3]int64{(y + 91881*r) >> 16, (y - 22554*b - 46802*r) >> 16, (y + 116130*b) >> 16} {
			v = max(0, min(0xffff, v))
			im.Data[i+2*c], im.Data[i+2*c+1] = byte(v>>8), byte(v)
		}
	}
}

// whitenRect sets the samples of a rectangle to what paints no toner.
func whitenRect(im *Image, r jpx.Rect) {
	whitenArea(im, r.X0, r.Y0, r.X1, r.Y1)
}
