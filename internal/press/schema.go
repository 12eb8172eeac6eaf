package press

import (
	"embed"
	"fmt"
)

//go:generate go test -run TestSchemasAreCurrent . -update

// The schemas are generated from the Go types, their comments included, so that an editor knows
// the keys and their meaning while a definition is being written.
//
//go:embed schema/*.json
var schemas embed.FS

// Kinds of definition there is a schema for.
const (
	KindPress = "press"
	KindStock = "stock"
	KindJob   = "job"
)

// Schema returns the JSON Schema (draft 2020-12) of a kind of definition: press, stock or job.
func Schema(kind string) ([]byte, error) {
	b, err := schemas.ReadFile("schema/" + kind + ".json")
	if err != nil {
		return nil, fmt.Errorf("there is no schema of %q; %s", kind, didYouMean(kind, []string{KindPress, KindStock, KindJob}))
	}
	return b, nil
}
