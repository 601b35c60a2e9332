package calib

import (
	"image"
	"testing"
)

// noise is a 12 MP photo whose samples have no pattern the processor could learn.
func noisePhoto(w, h int) *Photo {
	pix := make([]uint8, 3*w*h)
	s := uint32(1)
	for i := range pix {
		s = s*1664525 + 1013904223
		pix[i] = uint8(s >> 24)
	}
	t := pack(256, srgbToLinear)
	p := &Photo{Width: w, Height: h, srgbPrimaries: true, tables: [3][]uint64{t, t, t}}
	p.pix8 = pix
	return p
}

func BenchmarkLinear12MP(b *testing.B) {
	p := noisePhoto(4000, 3000)
	for _, step := range []struct {
		name string
		n    int
	}{{"step1", 1}, {"step4", 4}, {"step8", 8}} {
		b.Run(step.name, func(b *testing.B) {
			for b.Loop() {
				p.Linear(image.Rect(0, 0, p.Width, p.Height), step.n)
			}
		})
	}
}
