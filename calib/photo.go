// Package calib turns a photograph on a grey card into colours one can stand
// behind: reading the file, linear light, the card, CIELAB and colour
// differences.
package calib

import (
	"os"

	"jigloupe/calib/cv"
)

// Photo is an upright photograph as its file encodes it, with what is needed to
// bring any part of it to linear light. It may be read by several goroutines.
type Photo struct {
	Width, Height int      // upright, in px
	Profile       string   // what the file says its numbers mean, e.g. "Display P3"
	Notes         []string // things to mind when trusting it, plain sentences

	pix           cv.Pixels
	tables        [3][]uint64   // per channel, see pack
	toSRGB        [3][3]float32 // linear light to linear light in sRGB primaries
	srgbPrimaries bool          // toSRGB changes nothing
}

// Open reads the photo in the named file.
func Open(name string) (*Photo, error) {
	file, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	return Decode(file)
}

// Decode reads a photo from the bytes of its file.
func Decode(file []byte) (*Photo, error) {
	pix, err := cv.Decode(file)
	if err != nil {
		return nil, err
	}
	p := &Photo{Width: pix.Width, Height: pix.Height, Profile: "sRGB (assumed: the file names none)", pix: pix, srgbPrimaries: true}
	t := pack(256, srgbToLinear)
	p.tables = [3][]uint64{t, t, t}
	return p, nil
}

// ClippedAt tells whether any channel of the pixel (x, y) is at the camera's
// upper limit.
func (p *Photo) ClippedAt(x, y int) bool {
	i := 3 * (y*p.Width + x)
	for k := range 3 {
		if p.tables[k][p.sample(i+k)]>>topShift&1 != 0 {
			return true
		}
	}
	return false
}

func (p *Photo) sample(i int) int {
	if p.pix.Pix16 != nil {
		return int(p.pix.Pix16[i])
	}
	return int(p.pix.Pix8[i])
}
