package font

import (
	"bytes"
	"errors"
	"fmt"

	"laydown/internal/geom"
)

var errProgram = errors.New("the font program is damaged")

// program is a parsed font program. Implementations are immutable after parsing.
type program interface {
	// numGlyphs is the number of glyphs; indices run from 0.
	numGlyphs() int
	// draw gives the glyph in text space at size 1, y up; nil when it has no marks. On damage it
	// gives what could be read and an error. work counts the steps it took.
	draw(gid int) (p *geom.Path, work int, err error)
	// advance gives the program's own advance in text space at size 1.
	advance(gid int) (float64, bool)
	// glyphByName finds a glyph by the name the program itself gives it.
	glyphByName(name string) (int, bool)
	// builtin is the program's own encoding of a code (-1 = none).
	builtin(code byte) int
}

// parseProgram tells the kind of program by its first bytes, not by the key it was stored under:
// producers mix them up.
func parseProgram(b []byte) (p program, err error) {
	defer func() {
		if r := recover(); r != nil { // a parser's missed check must not take the page down
			p, err = nil, fmt.Errorf("%w: %v", errProgram, r)
		}
	}()
	p, err = parseByKind(b)
	if err != nil {
		return nil, err // not a nil parser's pointer in an interface
	}
	return p, nil
}

func parseByKind(b []byte) (program, error) {
	// Stray white space or a byte-order mark in front is seen in the wild.
	head := bytes.TrimLeft(b, "\r\n\t ")
	switch {
	case len(b) < 4:
		return nil, fmt.Errorf("%w: too short", errProgram)
	case bytes.HasPrefix(b, []byte("\x00\x01\x00\x00")), bytes.HasPrefix(b, []byte("true")),
		bytes.HasPrefix(b, []byte("OTTO")), bytes.HasPrefix(b, []byte("ttcf")):
		return parseSFNT(b)
	case b[0] == 0x80, bytes.HasPrefix(head, []byte("%!")):
		return parseType1(b)
	case b[0] == 1 && b[1] <= 4:
		return parseCFF(b)
	case bytes.HasPrefix(head, []byte("OTTO")), bytes.HasPrefix(head, []byte("true")):
		return parseSFNT(head)
	case bytes.Contains(b[:min(len(b), 4096)], []byte("/FontType")) || bytes.Contains(b[:min(len(b), 4096)], []byte("/FontName")):
		return parseType1(b)
	}
	// Last try: each parser checks its own structure.
	if p, err := parseCFF(b); err == nil {
		return p, nil
	}
	if p, err := parseSFNT(b); err == nil {
		return p, nil
	}
	return nil, fmt.Errorf("%w: of no known kind", errProgram)
}
