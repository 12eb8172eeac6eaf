package pdf

// Spot is the space of a named colourant whose stand-in colour, 0 to 1 of each process colour, fades to none with its tint
// (ISO 32000-2, 8.6.6.4).
func Spot(name string, standIn [4]float64) Array {
	full := make(Array, len(standIn))
	for i, v := range standIn {
		full[i] = Real(v)
	}
	none := Real(0)
	return Array{Name("Separation"), Name(name), Name("DeviceCMYK"), Dict{
		"FunctionType": Integer(2), "Domain": Array{none, Real(1)}, "N": Integer(1), "C0": Array{none, none, none, none}, "C1": full,
	}}
}
