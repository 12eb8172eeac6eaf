// Package sameseed makes what the tests draw at random the same in every run and leaves no files of what failed, so that the tree
// before and after a change is tried with the same cases. Tests import it for that alone; -rapid.seed tries others (0: ever new ones).
package sameseed

import (
	"flag"

	_ "pgregory.net/rapid" // has the flags
)

func init() {
	for _, set := range [][2]string{{"rapid.seed", "1"}, {"rapid.nofailfile", "true"}} {
		if err := flag.Set(set[0], set[1]); err != nil {
			panic(err)
		}
	}
}
