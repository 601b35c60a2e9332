package inspect

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

const faintNoise, faintFlakes = 0.03, 0.08 // standard deviations relative to the level: of a channel, and of all together

// greyHead is a disc of a grey coat on card with a bare spot of so many px in its
// middle, which sends a third of the coat's light and has none of its colour; the
// coat as it is known, too.
func greyHead(t *testing.T, random *rand.Rand, tint [3]float64, noise, across float64) (*look, *coat, bareness) {
	t.Helper()
	const w, radius = 150, 60
	flat := func(v float32) cv.Plane { return flatPlane(w, v) }
	head := image.NewGray(image.Rect(0, 0, w, w))
	l := &look{patch: patch{&calib.Linear{Width: w, Height: w, Step: 1, Top: make([]uint8, w*w), Pix: make([]float32, 3*w*w)}, 0.18}, angles: flat(30)}
	depth := flat(0)
	for i := range head.Pix {
		far := math.Hypot(float64(i%w)-w/2, float64(i/w)-w/2)
		level, flake := [3]float64{1, 1, 1}, 1.0
		if far < radius {
			head.Pix[i], depth.Pix[i] = 255, float32(radius-far)
			level = tint
			flake += faintFlakes * random.NormFloat64()
			if far < across/2 {
				level, flake = [3]float64{0.33, 0.33, 0.33}, 1
			}
		}
		for k := range level {
			l.Pix[3*i+k] = float32(0.18 * level[k] * flake * (1 + noise*random.NormFloat64()))
		}
	}
	l.shape = &shape{w: w, h: w, head: head, lip: image.NewGray(head.Rect), depth: depth, clear: flat(90), radius: radius, gauge: 4}
	var err error
	if l.tones, err = tonesOf(l.patch, 1.5); err != nil {
		t.Fatal(err)
	}
	c := &coat{}
	for k := range c.expected {
		c.expected[k] = flat(float32(math.Log(tint[k] + toe)))
	}
	b, err := (&bareness{level: make([]levels, w*w)}).inMeans(l, c, faintSigmas[0])
	if err != nil {
		t.Fatal(err)
	}
	if b.faint.sparkle, err = l.newSparkle(0.5); err != nil {
		t.Fatal(err)
	}
	return l, c, b
}

// greySpots counts the bare spots, and is how wide the one in the middle is, px.
func greySpots(t *testing.T, l *look, b bareness) (count int, across float64) {
	t.Helper()
	spots, err := bareSpots(l, b, false)
	if err != nil {
		t.Fatal(err)
	}
	for _, sp := range spots {
		if sp.diameter() < l.leastSpot() || l.kind(b, sp) != bareSpot {
			continue
		}
		count++
		if math.Hypot(sp.blob.X-float64(l.shape.w)/2, sp.blob.Y-float64(l.shape.w)/2) < 4 {
			taken := make([]bool, len(l.shape.head.Pix))
			for _, i := range sp.pixels {
				taken[i] = true
			}
			across = l.toHalf(b, sp, taken).diameter()
		}
	}
	return count, across
}

// Of spots a tenth wider than the limit that is stated nine in ten are found, of
// drawn speckle and noise whose variances are known; on clean heads none is; and the
// widths that come back are those drawn.
func TestFaintLimit(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(11, 1))
	yellow := [3]float64{1.03, 1, 0.85} // a colour of 0.15
	l, _, b := greyHead(t, random, yellow, faintNoise, 0)
	limit := b.smallest(l)
	if limit > 25 {
		t.Fatalf("limit %.1f px, want less: the windows are %.1f px", limit, faintSigmas[0])
	}
	const heads = 20
	found, stray := 0, 0
	for range heads {
		l, _, b := greyHead(t, random, yellow, faintNoise, 0)
		n, _ := greySpots(t, l, b)
		stray += n
		l, _, b = greyHead(t, random, yellow, faintNoise, 1.1*limit)
		if _, across := greySpots(t, l, b); across > 0 {
			found++
		}
	}
	t.Logf("limit %.1f px: %d of %d found, %d false on %d clean heads", limit, found, heads, stray, heads)
	if 10*found < 9*heads || stray > 0 {
		t.Errorf("%d of %d found, %d false", found, heads, stray)
	}
	l, _, b = greyHead(t, random, yellow, faintNoise, 36)
	if _, across := greySpots(t, l, b); math.Abs(across-36) > 5 {
		t.Errorf("%.1f px come back of 36", across)
	}
}

// The windows' scatter is the limit where noise is ten times as strong: nothing stands
// out of it on clean heads, and the width that is claimed grows or none is.
func TestFaintNoise(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(11, 3))
	yellow := [3]float64{1.03, 1, 0.85}
	for range 10 {
		l, _, quiet := greyHead(t, random, yellow, faintNoise, 0)
		noisy, _, b := greyHead(t, random, yellow, 10*faintNoise, 0)
		if q, v := quiet.smallest(l), b.smallest(noisy); v < 1.2*q {
			t.Errorf("%.1f px are claimed in noise, %.1f without", v, q)
		}
		for i, share := range b.neutral.Pix {
			if noisy.shape.depth.Pix[i] >= 2*thinRim && share > b.limit.Pix[i] {
				t.Fatalf("the coat is called missing at pixel %d: share %.2f, limit %.2f", i, share, b.limit.Pix[i])
			}
		}
	}
}

// A coat whose colour lead may have itself shows nothing: no width is claimed.
func TestFaintTooGrey(t *testing.T) {
	t.Parallel()
	for name, tint := range map[string][3]float64{"grey": {1, 1, 0.98}, "as blue as lead": {0.96, 0.98, 1.04}} {
		l, _, b := greyHead(t, rand.New(rand.NewPCG(11, 2)), tint, faintNoise, 30)
		if v := b.smallest(l); !math.IsInf(v, 1) {
			t.Errorf("%s: %.1f px are claimed", name, v)
		}
		if n, _ := greySpots(t, l, b); n != 0 {
			t.Errorf("%s: %d spots", name, n)
		}
	}
}

// Gloss leaves the flakes' sparkle, metal has none: of a hundred of each, drawn with
// variances of 8 % flakes and 3 % noise, no more than five are taken for the other.
// Where flakes are finer than the noise it is not told.
func TestSparkle(t *testing.T) {
	t.Parallel()
	const w, r, level = 60, 8, 0.5
	random := rand.New(rand.NewPCG(11, 3))
	shines := func(flakes float64, gloss bool) (n int) {
		s := &shape{w: w, h: w, head: image.NewGray(image.Rect(0, 0, w, w)), lip: image.NewGray(image.Rect(0, 0, w, w)), depth: cv.NewPlane(w, w), clear: cv.NewPlane(w, w), radius: 20}
		for i := range s.depth.Pix {
			s.depth.Pix[i], s.clear.Pix[i] = 90, 90
		}
		for range 100 {
			k := &sparkle{cv.NewPlane(w, w), cv.NewPlane(w, w), sq(faintNoise), 2}
			var sp spot
			for i := range k.square.Pix {
				at, variance := level, k.noiseAt(level)+sq(level*flakes)
				if math.Hypot(float64(i%w)-w/2, float64(i/w)-w/2) < r {
					sp.pixels = append(sp.pixels, i)
					if at = 1.5 * level; gloss {
						variance = k.noiseAt(at) + sq(level*flakes)
					} else {
						variance = k.noiseAt(at)
					}
				}
				k.level.Pix[i] = float32(at)
				k.square.Pix[i] = float32(variance * sq(random.NormFloat64()))
			}
			if k.shinesThrough(&look{shape: s}, sp) {
				n++
			}
		}
		return n
	}
	if n := shines(faintFlakes, true); n < 95 {
		t.Errorf("gloss: %d of 100 shine", n)
	}
	if n := shines(faintFlakes, false); n > 5 {
		t.Errorf("metal: %d of 100 shine", n)
	}
	if n := shines(0.01, true); n > 0 {
		t.Errorf("hardly any flakes: %d of 100 told", n)
	}
}

// Where an outline as weak as the card allows leaves out a place on one side, it is
// said; a firm one leaves out what is not there.
func TestLeftOut(t *testing.T) {
	t.Parallel()
	const w = 120
	for _, c := range []struct {
		name string
		bite float64 // radius of what is left out, px
		firm float64
		want bool
	}{{"whole", 0, 0.4, false}, {"bitten", 12, 0.4, true}, {"firm", 12, 1, false}} {
		head := image.NewGray(image.Rect(0, 0, w, w))
		dark, clear := cv.NewPlane(w, w), cv.NewPlane(w, w)
		for i := range head.Pix {
			x, y := float64(i%w), float64(i/w)
			dark.Pix[i], clear.Pix[i] = float32(math.Log(0.6+toe)), 90
			if math.Hypot(x-60, y-60) < 45 && math.Hypot(x-60, y-20) >= c.bite {
				head.Pix[i] = 255
			}
		}
		l := &look{firm: c.firm, axis: axis{x: 60, y: 60, dx: 1}, tones: &tones{w: w, h: w, plane: [3]cv.Plane{dark, dark, dark}},
			shape: &shape{w: w, h: w, head: head, clear: clear, gauge: 4, radius: 45}}
		spots, err := l.leftOut()
		if err != nil || (len(spots) > 0) != c.want {
			t.Fatalf("%s: %d places, %v", c.name, len(spots), err)
		}
		if c.want && (spots[0].diameter() < 1.2*c.bite || math.Abs(spots[0].blob.X-60) > 2) {
			t.Errorf("%s: %.1f px wide at %.0f, %.0f", c.name, spots[0].diameter(), spots[0].blob.X, spots[0].blob.Y)
		}
	}
}
