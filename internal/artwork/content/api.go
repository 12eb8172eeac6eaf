// Package content splits content streams into operators with their operands and byte offsets. It
// gives no meaning to any of them.
package content

import "laydown/internal/artwork/pdf"

// Op is one operator with its operands.
type Op struct {
	Name     string       // as written, e.g. "re", "f*"; "BI" stands for a whole inline image
	Operands []pdf.Object // direct objects; valid until the next call of Next
	Offset   int64        // of the operator keyword in the decoded stream
	Inline   *Inline      // for BI
}

// Inline is an inline image (8.9.7): its dictionary as written and its raw bytes.
type Inline struct {
	Dict pdf.Dict
	Data []byte
}

// Scanner reads operators one by one from decoded content. Damage is skipped and reported
// through Problem; it never panics and always ends.
type Scanner struct {
	// Problem, when not nil, is told of each damage with its offset.
	Problem func(offset int64, what string)
}

// NewScanner reads data. Bytes of several content streams of a page must be joined with a
// white-space byte between them by the caller (7.8.2).
func NewScanner(data []byte) *Scanner { panic("unwritten") }

// Next returns the next operator; ok is false at the end.
func (s *Scanner) Next() (op Op, ok bool) { panic("unwritten") }
