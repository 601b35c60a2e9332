package calib

import (
	"image"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Against the plain way: look up, convert and average pixel by pixel.
func TestLinearIsTheMeanOfLight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := noisePhoto(rapid.IntRange(1, 40).Draw(t, "width"), rapid.IntRange(1, 40).Draw(t, "height"))
		profile := rapid.SampledFrom([]*profile{sRGB, displayP3, adobeRGB}).Draw(t, "profile")
		levels := 256
		if rapid.Bool().Draw(t, "16 bits") {
			levels = 65536
			for _, s := range p.pix8 {
				p.pix16 = append(p.pix16, uint16(s)*257)
			}
			p.pix8 = nil
		}
		p.setProfile(profile, levels)
		step := rapid.IntRange(1, maxStep).Draw(t, "step")
		x0, y0 := rapid.IntRange(-5, p.Width).Draw(t, "x"), rapid.IntRange(-5, p.Height).Draw(t, "y")
		r := image.Rect(x0, y0, x0+rapid.IntRange(0, 50).Draw(t, "dx"), y0+rapid.IntRange(0, 50).Draw(t, "dy"))
		l := p.Linear(r, step)
		if l.Rect != r.Intersect(image.Rect(0, 0, p.Width, p.Height)) || len(l.Pix) != 3*l.Width*l.Height {
			t.Fatalf("rectangle %v of %v in %d × %d px, %d values", l.Rect, r, p.Width, p.Height, len(l.Pix))
		}
		for by := range l.Height {
			for bx := range l.Width {
				block := image.Rect(0, 0, step, step).Add(image.Pt(bx*step, by*step)).Add(l.Rect.Min).Intersect(l.Rect)
				var sum [3]float64
				var top, bottom [3]int
				for y := block.Min.Y; y < block.Max.Y; y++ {
					for x := block.Min.X; x < block.Max.X; x++ {
						var light [3]float64
						for k := range 3 {
							code := p.sample(3*(y*p.Width+x) + k)
							light[k] = profile.curves[k](float64(code) / float64(levels-1))
							if code >= (levels-1)*254/255 {
								top[k]++
							}
							if code == 0 {
								bottom[k]++
							}
						}
						for k, v := range profile.toSRGB.apply(light) {
							sum[k] += v
						}
					}
				}
				n := block.Dx() * block.Dy()
				got := l.At(bx, by)
				for k := range 3 {
					if want := sum[k] / float64(n); math.Abs(float64(got[k])-want) > 3e-6 { // tables in 2⁻²⁰, twice over by the matrix
						t.Fatalf("block (%d, %d), channel %d is %g, want %g", bx, by, k, got[k], want)
					}
				}
				i := by*l.Width + bx
				for name, c := range map[string]struct {
					got   uint8
					count int
				}{"top": {l.Top[i], max(top[0], top[1], top[2])}, "bottom": {l.Bottom[i], max(bottom[0], bottom[1], bottom[2])}} {
					want := math.Ceil(255 * float64(c.count) / float64(n))
					if float64(c.got) != want {
						t.Fatalf("block (%d, %d): share at the %s %d, want %g of 255 (%d of %d px)", bx, by, name, c.got, want, c.count, n)
					}
				}
			}
		}
	})
}

// A step so large that all counts are at their highest must not spill over.
func TestLinearOfAllWhiteAndAllBlack(t *testing.T) {
	for _, code := range []uint8{0, 254, 255} {
		p := &Photo{Width: maxStep, Height: maxStep, pix8: make([]uint8, 3*maxStep*maxStep)}
		for i := range p.pix8 {
			p.pix8[i] = code
		}
		p.setProfile(sRGB, 256)
		l := p.Linear(image.Rect(0, 0, maxStep, maxStep), 1000)
		want := srgbToLinear(float64(code) / 255)
		atTop, atBottom := uint8(0), uint8(0)
		if code == 0 {
			atBottom = 255
		} else {
			atTop = 255
		}
		if got := float64(l.At(0, 0)[1]); l.Width != 1 || math.Abs(got-want) > 1e-6 || l.Top[0] != atTop || l.Bottom[0] != atBottom {
			t.Errorf("all of code %d: %d px wide, light %g, top %d, bottom %d", code, l.Width, got, l.Top[0], l.Bottom[0])
		}
	}
}

func TestClippedAt(t *testing.T) {
	p := &Photo{Width: 4, Height: 1, pix8: []uint8{253, 253, 253, 10, 254, 10, 255, 0, 0, 0, 0, 0}}
	p.setProfile(displayP3, 256)
	for x, want := range []bool{false, true, true, false} {
		if got := p.ClippedAt(x, 0); got != want {
			t.Errorf("ClippedAt(%d, 0) = %v, want %v", x, got, want)
		}
	}
}

// noisePhoto has samples without a pattern that a processor could learn.
func noisePhoto(w, h int) *Photo {
	pix := make([]uint8, 3*w*h)
	s := uint32(1)
	for i := range pix {
		s = s*1664525 + 1013904223
		pix[i] = uint8(s >> 24)
	}
	p := &Photo{Width: w, Height: h, pix8: pix}
	p.setProfile(sRGB, 256)
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
