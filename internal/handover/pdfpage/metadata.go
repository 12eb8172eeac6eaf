package pdfpage

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"math"
	"unicode/utf16"

	"laydown/internal/artwork/pdf"
)

const producer = "laydown"

// textString is a text string (ISO 32000-2, 7.9.2.2): ASCII as it is, all else in UTF-16BE.
func textString(s string) pdf.String {
	for _, r := range s {
		if r >= 0x7f || r < ' ' {
			b := []byte{0xFE, 0xFF}
			for _, u := range utf16.Encode([]rune(s)) {
				b = binary.BigEndian.AppendUint16(b, u)
			}
			return pdf.String(b)
		}
	}
	return pdf.String(s)
}

func (i *Info) dict() pdf.Dict {
	d := pdf.Dict{"Title": textString(i.Title), "Producer": textString(producer), "Trapped": pdf.Name("False")}
	if !i.Made.IsZero() {
		t := pdf.String(i.Made.UTC().Format("D:20060102150405") + "Z")
		d["CreationDate"], d["ModDate"] = t, t
	}
	return d
}

// version is that of PDF/X a document keeps the rules of, "" where it lacks a date, or a printing condition with a profile of
// an output device for gray, RGB or CMYK (ISO 15930-7, from memory).
func (i *Info) version() string {
	if i.Made.IsZero() || i.Intent == nil || len(i.Intent.Profile) < 128 || string(i.Intent.Profile[12:16]) != "prtr" {
		return ""
	}
	switch string(i.Intent.Profile[16:20]) {
	case "GRAY", "RGB ", "CMYK":
		return "PDF/X-4"
	}
	return ""
}

// xmp is the metadata packet (ISO 16684-1). The sum names what was drawn.
func (i *Info) xmp(sum []byte) []byte {
	esc := func(s string) string {
		var b bytes.Buffer
		_ = xml.EscapeText(&b, []byte(s)) // into memory: cannot fail
		return b.String()
	}
	var b bytes.Buffer
	b.WriteString("<?xpacket begin=\"\uFEFF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" +
		`<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">` +
		`<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:xmpMM="http://ns.adobe.com/xap/1.0/mm/" xmlns:pdfxid="http://www.npes.org/pdfx/ns/id/">` + "\n")
	fmt.Fprintf(&b, "<dc:format>application/pdf</dc:format>\n<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">%s</rdf:li></rdf:Alt></dc:title>\n", esc(i.Title))
	fmt.Fprintf(&b, "<dc:language><rdf:Bag><rdf:li>%s</rdf:li></rdf:Bag></dc:language>\n<pdf:Producer>%s</pdf:Producer>\n<pdf:Trapped>False</pdf:Trapped>\n", esc(i.Language), producer)
	if !i.Made.IsZero() {
		t := i.Made.UTC().Format("2006-01-02T15:04:05Z")
		fmt.Fprintf(&b, "<xmp:CreateDate>%s</xmp:CreateDate>\n<xmp:ModifyDate>%s</xmp:ModifyDate>\n<xmp:MetadataDate>%s</xmp:MetadataDate>\n", t, t, t)
	}
	if v := i.version(); v != "" {
		fmt.Fprintf(&b, "<pdfxid:GTS_PDFXVersion>%s</pdfxid:GTS_PDFXVersion>\n<xmpMM:DocumentID>uuid:%x-%x-%x-%x-%x</xmpMM:DocumentID>\n"+
			"<xmpMM:VersionID>1</xmpMM:VersionID>\n<xmpMM:RenditionClass>default</xmpMM:RenditionClass>\n", v, sum[:4], sum[4:6], sum[6:8], sum[8:10], sum[10:16])
	}
	b.WriteString("</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"w\"?>")
	return b.Bytes()
}

// sRGBProfile is a small display profile of sRGB (IEC 61966-2-1) in the form of ICC.1:2001-04 (version 2): the primaries
// adapted to D50 with the Bradford transform, and the tone curve as a table of 1024 values.
func sRGBProfile() []byte {
	be := binary.BigEndian
	fixed := func(b []byte, v ...float64) []byte {
		for _, x := range v {
			b = be.AppendUint32(b, uint32(int32(math.Round(x*65536))))
		}
		return b
	}
	xyz := func(v ...float64) []byte { return fixed([]byte("XYZ \x00\x00\x00\x00"), v...) }
	curve := be.AppendUint32([]byte("curv\x00\x00\x00\x00"), 1024)
	for i := range 1024 {
		v := float64(i) / 1023
		if v <= 0.04045 {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		curve = be.AppendUint16(curve, uint16(math.Round(v*65535)))
	}
	name := "sRGB\x00"
	desc := be.AppendUint32([]byte("desc\x00\x00\x00\x00"), uint32(len(name)))
	desc = append(append(desc, name...), make([]byte, 4+4+2+1+67)...)
	tags := []struct {
		sign string
		data []byte
	}{
		{"desc", desc}, {"cprt", []byte("text\x00\x00\x00\x00No copyright, use freely\x00")},
		{"wtpt", xyz(0.9642, 1, 0.8249)},
		{"rXYZ", xyz(0.43607, 0.22249, 0.01392)}, {"gXYZ", xyz(0.38515, 0.71687, 0.09708)}, {"bXYZ", xyz(0.14307, 0.06061, 0.71410)},
		{"rTRC", curve}, {"gTRC", nil}, {"bTRC", nil}, // one curve for all three
	}
	head := make([]byte, 128)
	copy(head[8:], []byte{2, 0x10, 0, 0})
	copy(head[12:], "mntrRGB XYZ ")
	copy(head[24:], []byte{7, 0xD0, 0, 1, 0, 1}) // 2000-01-01
	copy(head[36:], "acsp")
	copy(head[68:], fixed(nil, 0.9642, 1, 0.8249))
	table := be.AppendUint32(nil, uint32(len(tags)))
	var body []byte
	start := 128 + 4 + 12*len(tags)
	at, size := 0, 0
	for _, t := range tags {
		if t.data != nil {
			at, size = start+len(body), len(t.data)
			body = append(body, t.data...)
			for len(body)%4 != 0 {
				body = append(body, 0)
			}
		}
		table = append(table, t.sign...)
		table = be.AppendUint32(be.AppendUint32(table, uint32(at)), uint32(size))
	}
	out := append(append(head, table...), body...)
	be.PutUint32(out, uint32(len(out)))
	return out
}
