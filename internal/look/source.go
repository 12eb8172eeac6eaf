package look

// surfaceSource gives the surface of every combination of tints. Model is one; tests make their own.
type surfaceSource interface {
	// inputPlates are the numbers of the plates that matter, at most limits.MaxLookToners.
	inputPlates() []int
	// surfaces is for one goroutine. Byte i of a key is the tint of plate inputPlates()[i].
	surfaces() func(key) Surface
}
