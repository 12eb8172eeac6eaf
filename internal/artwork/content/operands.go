package content

import "laydown/internal/artwork/pdf"

// Numbers are the last n operands as numbers; ok is false where they are not all there.
func Numbers(operands []pdf.Object, n int) (v []float64, ok bool) {
	if len(operands) < n {
		return nil, false
	}
	v = make([]float64, n)
	for i, o := range operands[len(operands)-n:] {
		switch x := o.(type) {
		case pdf.Integer:
			v[i] = float64(x)
		case pdf.Real:
			v[i] = float64(x)
		default:
			return nil, false
		}
	}
	return v, true
}

// LastName is the last operand as a name; "" where it is none.
func LastName(operands []pdf.Object) pdf.Name {
	if len(operands) == 0 {
		return ""
	}
	n, _ := operands[len(operands)-1].(pdf.Name)
	return n
}

// FreeName reports whether a resource may have the name: as an operand of cs some mean another space than that of the resources, or
// stand in for one (8.6.5.6).
func FreeName(n pdf.Name) bool {
	switch n {
	case "DeviceGray", "DeviceRGB", "DeviceCMYK", "Pattern", "DefaultGray", "DefaultRGB", "DefaultCMYK":
		return false
	}
	return true
}
