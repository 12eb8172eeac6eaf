package look

import (
	"crypto/sha256"
	"fmt"
	"testing"

	"laydown/internal/golden"
)

// The picture must be the same bytes on every machine and for every instruction set level.
func TestPictureBytesNeverChangeUnnoticed(t *testing.T) {
	h, planes := somePlates(7, 200, 100)
	img, err := testModel(t).Picture(h, planes, 2)
	if err != nil {
		t.Fatal(err)
	}
	golden.Text(t, "picture-of-noise.sha256", fmt.Sprintf("%x\n", sha256.Sum256(img.Pix)))
}
