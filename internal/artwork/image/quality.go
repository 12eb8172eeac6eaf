package image

import "laydown/internal/artwork/image/jpx"

// Loss is what coding took from the samples of JPEG 2000 data.
type Loss = jpx.Loss

// JPXLoss tells it from the headers of the data of a JPXDecode filter, without decoding them.
func JPXLoss(data []byte) (Loss, error) {
	f, err := jpx.Parse(data)
	if err != nil {
		return Loss{}, jpxError(err)
	}
	l, err := f.Loss()
	return l, jpxError(err)
}
