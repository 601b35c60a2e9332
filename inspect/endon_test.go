package inspect

import (
	"image"
	"math"
	"testing"
)

// A hook seen end on is no head, a collar and a tapered tip are; how they lie makes no
// difference.
func TestOffHook(t *testing.T) {
	const n, radius, collar = 500, 40.0, 60.0 // px; the collar ends that far from the middle
	for _, c := range []struct {
		name  string
		half  func(along float64) float64 // of the width beyond the collar, px
		taken bool
	}{
		{"hook", func(along float64) float64 { return 12 * boolTo1(along < 160) }, true},
		{"hook with its shadow", func(along float64) float64 { return 12*boolTo1(along < 160) + 9*boolTo1(along > 130 && along < 136) }, true},
		{"a second, longer part of the collar", func(along float64) float64 { return 12 * boolTo1(along < 110) }, false},
		{"tip", func(along float64) float64 { return 20 * (1 - (along-collar)/80) }, false},
	} {
		for deg := 0; deg < 360; deg += 25 {
			sin, cos := math.Sincos(float64(deg) * math.Pi / 180)
			s := &shape{w: n, h: n, radius: radius, gauge: 4, centre: image.Pt(n/2, n/2), head: image.NewGray(image.Rect(0, 0, n, n)), lip: image.NewGray(image.Rect(0, 0, n, n))}
			beyond := 0
			for i := range s.head.Pix {
				x, y := float64(i%n-n/2), float64(i/n-n/2)
				along, across := x*cos+y*sin, math.Abs(y*cos-x*sin)
				switch {
				case math.Hypot(x, y) < radius, along > 0 && along < collar && across < 20:
					s.head.Pix[i] = 255
				case along >= collar && across < c.half(along):
					s.head.Pix[i] = 255
					beyond++
				}
			}
			s.offHook()
			head, left := 0, 0
			for i, v := range s.head.Pix {
				if x, y := float64(i%n-n/2), float64(i/n-n/2); v != 0 && x*cos+y*sin < collar {
					head++
				} else if v != 0 {
					left++
				}
			}
			if share := float64(left) / float64(beyond); c.taken != (share < 0.1) || !c.taken && share < 1 || float64(head) < 1.1*math.Pi*radius*radius {
				t.Errorf("%s at %d°: %.2f of it left in a head of %d px", c.name, deg, share, head)
			}
			if c.taken && (s.gauge < 5.5 || s.gauge > 6.5) { // a quarter of two wires
				t.Errorf("%s at %d°: a gauge of %.1f px", c.name, deg, s.gauge)
			}
		}
	}
}

func boolTo1(is bool) float64 {
	if is {
		return 1
	}
	return 0
}
