package inspect

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"jigloupe/calib/cv"
)

// Of a normal distribution the limit is four standard deviations over the middle. What
// raises two shares in five, as a side in another colour does, raises it by little.
func TestSurelyNeutral(t *testing.T) {
	const n, sigma = 20000, 0.2
	random := rand.New(rand.NewPCG(3, 4))
	plain, raised := make([]float64, n), make([]float64, n)
	for i := range plain {
		plain[i] = sigma * random.NormFloat64()
		if raised[i] = plain[i]; i%5 < 2 {
			raised[i] += 5 * sigma
		}
	}
	// quartile and twentieth of so many draws are off by 0.01 and 0.015 standard deviations
	if limit := surelyNeutral(plain); math.Abs(limit-4*sigma) > 0.1*sigma {
		t.Errorf("limit %.3f, want %.3f", limit, 4*sigma)
	}
	// the median is then the five sixths of the coat's own, the twentieth its twelfth
	want := (0.967 + 4*(0.967+1.383)/1.645) * sigma
	if limit := surelyNeutral(raised); math.Abs(limit-want) > 0.1*sigma {
		t.Errorf("limit %.3f with two in five raised, want %.3f", limit, want)
	}
}

// A side that is more colourful than the coat is expected to be has no metal, whatever
// its hue; a grey side may have.
func TestOtherColourIsCoat(t *testing.T) {
	const w, radius = 100, 40
	coatColour := [3]float64{0.6, 0.4, 0.3}
	for _, c := range []struct {
		name    string
		side    [3]float64
		missing bool
	}{
		{"another colour", [3]float64{0.1, 0.6, 0.7}, false},
		{"grey", [3]float64{0.4, 0.4, 0.4}, true},
	} {
		head := image.NewGray(image.Rect(0, 0, w, w))
		l := &look{angles: flatPlane(w, 30), tones: &tones{w: w, h: w}}
		for k := range l.tones.level {
			l.tones.level[k] = cv.NewPlane(w, w)
		}
		depth := flatPlane(w, 0)
		var side []int
		for i := range head.Pix {
			x, y := float64(i%w)-w/2, float64(i/w)-w/2
			if r := math.Hypot(x, y); r < radius {
				head.Pix[i], depth.Pix[i] = 255, float32(radius-r)
			}
			for k := range coatColour {
				v := coatColour[k]
				if x > radius/3 {
					v = c.side[k]
				}
				l.tones.level[k].Pix[i] = float32(v)
			}
			if head.Pix[i] != 0 && x > radius/3 {
				side = append(side, i)
			}
		}
		l.shape = &shape{w: w, h: w, head: head, lip: image.NewGray(head.Rect), depth: depth, clear: flatPlane(w, 90), radius: radius, gauge: 4}
		coat := &coat{}
		for k := range coat.expected {
			v := float32(math.Log(coatColour[k] + toe))
			coat.expected[k] = flatPlane(w, v)
			for range angleClasses {
				coat.byAngle[k] = append(coat.byAngle[k], v)
			}
		}
		b := measureBareness(l, coat, lamps{})
		missing := 0
		for _, i := range side {
			if b.missing(i) {
				missing++
			}
		}
		if want := map[bool]int{true: len(side)}[c.missing]; missing != want {
			t.Errorf("%s: %d of %d px are missing", c.name, missing, len(side))
		}
	}
}
