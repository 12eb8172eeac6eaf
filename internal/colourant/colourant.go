// Package colourant names the toners that get a plate of their own.
package colourant

import "fmt"

// Tint is the amount of a colourant on a plate: 0 none, 255 full.
type Tint = uint8

// Kind is what sort of toner a colourant is. The zero value is Spot, a colourant of which nothing
// but the name is known.
type Kind uint8

// Kinds of toner.
const (
	Spot Kind = iota
	Process
	OpaqueWhite
	Metallic
	Clear
	Fluorescent
)

var kindNames = [...]string{"spot", "process", "opaque white", "metallic", "clear", "fluorescent"}

func (k Kind) String() string { return kindNames[k] }

// MarshalText writes the kind's words.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// UnmarshalText reads the kind's words.
func (k *Kind) UnmarshalText(b []byte) error {
	for i, n := range kindNames {
		if n == string(b) {
			*k = Kind(i)
			return nil
		}
	}
	return fmt.Errorf("toner kind %q is not one of %q", b, kindNames)
}

// Names of the four process colourants as PDF spells them (ISO 32000-2, 8.6.6.4).
const (
	Cyan    = "Cyan"
	Magenta = "Magenta"
	Yellow  = "Yellow"
	Black   = "Black"
)

// ProcessNames lists the process colourants in the order of DeviceCMYK components.
var ProcessNames = [4]string{Cyan, Magenta, Yellow, Black}

// Colourant is one toner: its exact name (a byte string, case-sensitive) and kind.
type Colourant struct {
	Name string `json:"name"`
	Kind Kind   `json:"kind"`
}

// Set is an ordered list of colourants with unique names: the order of a stack's plates. Its first
// four are always Cyan, Magenta, Yellow, Black, so that process component i is plate i.
type Set struct {
	list  []Colourant
	index map[string]int
}

// NewSet returns the process colourants followed by specials, each name once.
func NewSet(specials ...Colourant) *Set {
	s := &Set{index: map[string]int{}}
	for _, n := range ProcessNames {
		s.add(Colourant{n, Process})
	}
	for _, c := range specials {
		s.add(c)
	}
	return s
}

func (s *Set) add(c Colourant) {
	if _, ok := s.index[c.Name]; !ok {
		s.index[c.Name] = len(s.list)
		s.list = append(s.list, c)
	}
}

// Len is the number of colourants, process ones included.
func (s *Set) Len() int { return len(s.list) }

// At returns colourant i.
func (s *Set) At(i int) Colourant { return s.list[i] }

// All returns the colourants in order; the caller must not change the slice.
func (s *Set) All() []Colourant { return s.list }

// Lookup finds a colourant by its exact name.
func (s *Set) Lookup(name string) (int, bool) { i, ok := s.index[name]; return i, ok }
