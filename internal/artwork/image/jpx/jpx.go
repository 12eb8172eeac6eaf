// Package jpx decodes JPEG 2000 (ITU-T T.800 | ISO/IEC 15444-1): JP2 files and bare codestreams as
// JPXDecode holds them (ISO 32000-2, 7.4.9). It knows samples and channels, no colour.
//
// The way of the data: boxes (boxes.go) around a codestream of markers (codestream.go); per tile
// the precincts and code-blocks (tile.go), packets that hand bytes to code-blocks (packet.go), the
// bit planes of a code-block (block.go), the wavelet (wavelet.go), and samples (samples.go).
package jpx

import (
	"errors"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
)

// Errors, always wrapped. Any other error means damaged data.
var (
	ErrUnsupported = errors.New("JPEG 2000 of a kind that is not supported")
	ErrTooLarge    = errors.New("JPEG 2000 over a limit")
)

// A Component is one plane of samples of the codestream.
type Component struct {
	Precision int // bits of a sample
	Signed    bool
	DX, DY    int // a sample stands for DX x DY pixels
}

// Channel types of a channel definition box (I.5.3.6).
const (
	ChannelColour = iota
	ChannelOpacity
	ChannelPremultiplied
)

// A Channel is what remains after the palette is applied.
type Channel struct {
	Type      int // ChannelColour ..., others are not for showing
	Precision int
	component int
	column    int // of the palette, -1 = the component itself
}

// A Colour is a colour specification box (I.5.3.3): an enumerated space or an ICC profile.
type Colour struct {
	Enumerated int // 0 = a profile
	Profile    []byte
}

// Enumerated colour spaces (Table I.10 and Part 2).
const (
	SpaceCMYK = 12
	SpaceLab  = 14
	SpaceSRGB = 16
	SpaceGray = 17
	SpaceSYCC = 18
)

// A File is a parsed header. Its codestream is decoded by Decode.
type File struct {
	Width, Height int
	Components    []Component
	Channels      []Channel // colour channels in the order of the colour space, then the others
	Colours       []Colour
	Palette       bool

	cs      *codestream
	palette *palette
}

// Colours counts the colour channels.
func (f *File) ColourChannels() int {
	n := 0
	for _, c := range f.Channels {
		if c.Type == ChannelColour {
			n++
		}
	}
	return n
}

// Opacity is the index of the channel that is opacity of the whole image, -1 = none.
func (f *File) Opacity() int {
	for i, c := range f.Channels {
		if c.Type == ChannelOpacity || c.Type == ChannelPremultiplied {
			return i
		}
	}
	return -1
}

// Options of Decode.
type Options struct {
	Channels []int // indices into File.Channels, in the order wanted
	Alpha    int   // index of a channel decoded beside them, -1 = none
	Raw      bool  // samples as they are, without palette, not scaled to the full range: for indices
	Workers  int   // goroutines, 0 = one a processor; the result is the same for any number
	MaxBytes int   // of samples; 0 = no limit
}

// A Rect is a part of the picture in pixels, half-open.
type Rect struct{ X0, Y0, X1, Y1 int }

// A Picture is decoded samples, interleaved, 8 bits or big-endian 16 bits each. Samples are scaled
// to the full range of Bits unless Options.Raw; signed ones are shifted so that the least is 0.
type Picture struct {
	Width, Height int
	Bits          int
	Data          []byte
	Alpha         []byte // Width x Height samples of Bits bits, nil = none
	Missing       []Rect // tiles of which nothing is there; their samples are 0
	Damage        error  // what was wrong with the data; the rest is decoded
}

// Parse reads the header of a JP2 file or of a codestream.
func Parse(data []byte) (f *File, err error) {
	defer caught(&err)
	return parse(data)
}

// Decode decodes the picture. Data that is damaged or ends early gives what can be decoded, with Damage set.
func (f *File) Decode(opt Options) (p *Picture, err error) {
	defer caught(&err)
	if opt.Workers <= 0 {
		opt.Workers = runtime.GOMAXPROCS(0)
	}
	return f.decode(opt)
}

func caught(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("the JPEG 2000 data is damaged: %v", p)
	}
}

// parallel calls f(worker, i) for each i < n; a panic of one is raised again here.
func parallel(n, workers int, f func(worker, i int)) {
	workers = min(workers, n)
	if workers <= 1 {
		for i := range n {
			f(0, i)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	var once sync.Once
	var fault any
	for w := range workers {
		wg.Go(func() {
			defer func() {
				if p := recover(); p != nil {
					once.Do(func() { fault = p })
				}
			}()
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				f(w, i)
			}
		})
	}
	wg.Wait()
	if fault != nil {
		panic(fault)
	}
}
