package inspect

import (
	"math"
	"testing"

	"jigloupe/calib/cv"
	"jigloupe/inspect/scene"
)

// A disc on the card is a lamp's shadow when it is dark, of one level and the card's hue,
// and has a penumbra round it.
func TestUmbra(t *testing.T) {
	const n, radius = 240, 50.0
	for _, c := range []struct {
		name  string
		fades float64 // px over which it ends
		shade float64 // log ratio from its one side to the other
		red   float64 // log ratio of red to green
		want  bool
	}{
		{"a shadow", 16, 0, 0, true},
		{"a shadow with some light from the side", 16, 0.3, 0.05, true},
		{"a bare lip", 3, 0, 0, false},
		{"a head's dark side", 16, 1, 0, false},
		{"a dark red head, blurred", 16, 0, 0.5, false},
	} {
		tn, edge, full := &tones{w: n, h: n}, cv.NewPlane(n, n), make([]bool, n*n)
		for k := range tn.plane {
			tn.plane[k] = cv.NewPlane(n, n)
		}
		steps := cv.NewPlane(n, n)
		for i := range steps.Pix {
			x, y := float64(i%n-n/2), float64(i/n-n/2)
			share := min(max((math.Hypot(x, y)-radius)/c.fades+0.5, 0), 1) // of the light that is there
			level := 0.1*math.Exp(c.shade*min(max(x/(2*radius), -0.5), 0.5))*(1-share) + share
			for k := range tn.plane {
				tn.plane[k].Pix[i] = float32(math.Log(level + toe))
			}
			tn.plane[0].Pix[i] += float32(c.red * (1 - share))
			full[i], steps.Pix[i] = share == 1, float32(math.Log(level+dim))
		}
		for i := range edge.Pix {
			if x, y := i%n, i/n; x > 0 && y > 0 && x < n-1 && y < n-1 {
				edge.Pix[i] = float32(math.Hypot(float64(steps.Pix[i+1]-steps.Pix[i-1]), float64(steps.Pix[i+n]-steps.Pix[i-n])) / 2)
			}
		}
		marked, err := tn.umbra(edge, full, &shadowHue{})
		if err != nil {
			t.Fatal(err)
		}
		in, out := 0, 0
		for i, m := range marked {
			switch r := math.Hypot(float64(i%n-n/2), float64(i/n-n/2)); {
			case m && r < radius-c.fades/2:
				in++
			case m && r > radius+c.fades:
				out++
			}
		}
		if share := float64(in) / (math.Pi * sq(radius-c.fades/2)); c.want != (share > 0.9) || !c.want && share > 0 || out > 0 {
			t.Errorf("%s: %.2f of it is marked, and %d px beyond", c.name, share, out)
		}
	}
}

// A grey head's outline goes not round the shadow that a lamp casts behind it, and its
// dark side is none.
func TestHardShadowIsNoHead(t *testing.T) {
	for _, c := range []struct {
		style        scene.Style
		flakes, from float64
		least        float64
	}{
		{scene.Bullet, 0.35, 290, 0.85},
		{scene.Ball, 0.6, 250, 0.9},
	} {
		spec := onCard(c.style, scene.Coat{Flake: scene.Aluminium(), FlakeShare: c.flakes, Pigment: scene.RGB{0.12, 0.12, 0.12}, HalfUM: 12, SpreadDeg: 14, Sparkle: 0.3})
		spec.Width, spec.Height, spec.MMPerPx, spec.Light = 640, 500, 0.035, scene.OneLamp(c.from, 35, 5000)
		if _, overlap := lookOver(t, spec); overlap < c.least {
			t.Errorf("%v: overlap %.3f", c.style, overlap)
		}
	}
}
