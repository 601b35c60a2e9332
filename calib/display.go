package calib

import (
	"image"
	"image/color"
	"math"
	"sync"

	"github.com/disintegration/imaging"
)

// Image returns the part r of the photo as a screen shows it, sRGB, at scale
// picture px per photo px. Shrinking averages light, not encoded values; colours
// outside sRGB are clipped.
func (p *Photo) Image(r image.Rectangle, scale float64) *image.NRGBA {
	r = r.Intersect(image.Rect(0, 0, p.Width, p.Height))
	const rows = 32                            // at once, so that the light of the whole picture takes no memory
	step := min(max(int(1/scale), 1), maxStep) // the whole-number part of the shrinking
	l, display := &Linear{}, displayTable()
	m := image.NewNRGBA(image.Rect(0, 0, (r.Dx()+step-1)/step, (r.Dy()+step-1)/step))
	for y := 0; y < m.Rect.Dy(); y += rows {
		p.fill(l, image.Rect(r.Min.X, r.Min.Y+y*step, r.Max.X, min(r.Min.Y+(y+rows)*step, r.Max.Y)), step)
		to := m.Pix[y*m.Stride:]
		for i := range l.Width * l.Height {
			for k := range 3 {
				to[4*i+k] = display.of(l.Pix[3*i+k])
			}
			to[4*i+3] = 255
		}
	}
	width := max(1, int(math.Round(float64(r.Dx())*scale)))
	height := max(1, int(math.Round(float64(r.Dy())*scale)))
	if r.Empty() || width == m.Rect.Dx() && height == m.Rect.Dy() {
		return m
	}
	filter := imaging.Box
	if scale > 1 {
		filter = imaging.CatmullRom
	}
	return imaging.Resize(m, width, height, filter)
}

// Relight multiplies the light of a screen picture, channel by channel, so that
// what has the colour of card becomes a neutral of that reflectance, and white
// reflects all. By more than three times either way card is no grey card, and
// the picture stays as it is.
func Relight(m *image.NRGBA, card color.NRGBA, reflectance float64) {
	var table [3][256]uint8
	for k, code := range [3]uint8{card.R, card.G, card.B} {
		gain := reflectance / srgbToLinear(float64(code)/255)
		if !(gain > 1.0/3 && gain < 3) {
			return
		}
		for i := range table[k] {
			table[k][i] = displayTable().of(float32(gain * srgbToLinear(float64(i)/255)))
		}
	}
	for i := 0; i < len(m.Pix); i += 4 {
		for k := range 3 {
			m.Pix[i+k] = table[k][m.Pix[i+k]]
		}
	}
}

// displayTable encodes linear light in steps of 1/16383, never more than one
// code from the exact value and for every 8-bit code exact.
var displayTable = sync.OnceValue(func() *bytesOfLight {
	var t bytesOfLight
	for i := range t {
		t[i] = uint8(math.Round(255 * linearToSRGB(float64(i)/float64(len(t)-1))))
	}
	return &t
})

type bytesOfLight [1 << 14]uint8

func (t *bytesOfLight) of(linear float32) uint8 {
	i := linear*float32(len(t)-1) + 0.5
	switch {
	case i >= float32(len(t)):
		return 255
	case i >= 0:
		return t[int(i)]
	}
	return 0
}
