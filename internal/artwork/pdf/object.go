package pdf

// The object types of ISO 32000-2, 7.3. A nil Object is null. Names and strings hold bytes after
// decoding (#xx, escapes, hex, decryption).

// Object is one of nil, Boolean, Integer, Real, Name, String, Array, Dict, Ref or *Stream.
type Object interface{}

// Boolean is true or false.
type Boolean bool

// Integer is a whole number; values beyond 64 bits are clamped with a finding.
type Integer int64

// Real is a number with a fraction.
type Real float64

// Name is a name after #xx decoding, without the slash. Two names are equal only byte for byte.
type Name string

// String is a byte string, literal or hexadecimal, after decoding.
type String string

// Array is an array; entries may be references.
type Array []Object

// Dict is a dictionary; values may be references.
type Dict map[Name]Object

// Ref is an indirect reference.
type Ref struct{ Num, Gen int }

// Stream is a stream object: its dictionary and where its raw bytes lie. Data is read through
// Document methods. Values are immutable after reading.
type Stream struct {
	Dict Dict
	Ref  Ref // the object it is; zero for inline data
	raw  *rawData
}
