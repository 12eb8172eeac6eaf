package colour

import (
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"unicode/utf16"

	"laydown/internal/limits"
)

// The ICC container (ICC.1:2022, 7): a header of 128 bytes, a table of tags, the data of the tags.
// Versions 2 and 4 differ only in the tag types they use; both are read by what is there.

// iccFile is a profile's bytes and where its tags lie in them. Every offset has been checked.
type iccFile struct {
	data []byte
	tags map[string][]byte
}

const iccHeaderBytes = 128

func openICC(data []byte) (*iccFile, error) {
	if len(data) > limits.MaxProfileBytes {
		return nil, fmt.Errorf("an ICC profile of %d bytes is %w", len(data), errOverLimit)
	}
	if len(data) < iccHeaderBytes+4 {
		return nil, errors.New("the ICC profile is cut short")
	}
	f := &iccFile{data: data, tags: map[string][]byte{}}
	if string(data[36:40]) != "acsp" {
		return nil, errors.New("it is not an ICC profile")
	}
	count := binary.BigEndian.Uint32(data[iccHeaderBytes:])
	if count > limits.MaxProfileTags {
		return nil, fmt.Errorf("an ICC profile of %d tags is %w", count, errOverLimit)
	}
	for i := range int(count) {
		at := iccHeaderBytes + 4 + 12*i
		if at+12 > len(data) {
			return nil, errors.New("the tag table of the ICC profile is cut short")
		}
		offset, size := binary.BigEndian.Uint32(data[at+4:]), binary.BigEndian.Uint32(data[at+8:])
		if uint64(offset) > uint64(len(data)) {
			continue // the tag counts as missing
		}
		end := min(uint64(offset)+uint64(size), uint64(len(data)))
		if _, seen := f.tags[string(data[at:at+4])]; !seen {
			f.tags[string(data[at:at+4])] = data[offset:end]
		}
	}
	return f, nil
}

func (f *iccFile) version() int   { return int(f.data[8]) }
func (f *iccFile) class() string  { return string(f.data[12:16]) }
func (f *iccFile) device() string { return string(f.data[16:20]) }
func (f *iccFile) pcs() string    { return string(f.data[20:24]) }

// xyz reads the first triple of an XYZ tag (ICC.1, 10.31).
func (f *iccFile) xyz(tag string) (v [3]float64, ok bool) {
	d := f.tags[tag]
	if len(d) < 20 || string(d[:4]) != "XYZ " {
		return v, false
	}
	for i := range v {
		v[i] = s15Fixed16(d[8+4*i:])
	}
	return v, true
}

func s15Fixed16(d []byte) float64 { return float64(int32(binary.BigEndian.Uint32(d))) / 65536 }

// text reads a description: textDescriptionType of version 2 (its ASCII part) or the first record of
// a multiLocalizedUnicodeType (ICC.1, 10.15), or plain text.
func (f *iccFile) text(tag string) string {
	d := f.tags[tag]
	if len(d) < 12 {
		return ""
	}
	switch string(d[:4]) {
	case "desc":
		n := uint64(binary.BigEndian.Uint32(d[8:]))
		return plainText(string(d[12:min(12+n, uint64(len(d)))]))
	case "text":
		return plainText(string(d[8:]))
	case "mluc":
		if len(d) < 28 {
			return ""
		}
		size, offset := uint64(binary.BigEndian.Uint32(d[20:])), uint64(binary.BigEndian.Uint32(d[24:]))
		if offset > uint64(len(d)) {
			return ""
		}
		raw := d[offset:min(offset+size, uint64(len(d)))]
		units := make([]uint16, len(raw)/2)
		for i := range units {
			units[i] = binary.BigEndian.Uint16(raw[2*i:])
		}
		return plainText(string(utf16.Decode(units)))
	}
	return ""
}

// plainText cuts at the first NUL, and keeps names short and printable.
func plainText(s string) string {
	s, _, _ = strings.Cut(s, "\x00")
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0xfffd {
			return -1
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 120 {
		s = string(r[:120])
	}
	return strings.TrimSpace(s)
}
