package inspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/mat"

	"jigloupe/inspect/scene"
)

// bareSpotsOn lays bare spots of all sizes over the side that faces the camera,
// well apart.
func bareSpotsOn(random *rand.Rand) []scene.Bare {
	var out []scene.Bare
	for k := range 4 {
		around := -48 + 32*float64(k) + 8*random.Float64()
		out = append(out, scene.Bare{
			At:      scene.Place{AlongMM: -2.2 + 3*float64((k*2)%3)/2 + 0.3*random.Float64(), AroundDeg: around, Facing: true},
			WidthMM: 0.2 + 0.8*random.Float64(), SoftMM: 0.1})
	}
	return out
}

// logistic is the chance of a hit against the logarithm of a size, 1/(1 + e^−(a + b·ln size)),
// with the covariance of a and b: the hit or miss model of MIL-HDBK-1823A, from
// memory. Fitted by Newton's method on the likelihood; not ok when it has no
// maximum, as when all large ones are hit and all small ones missed.
type logistic struct {
	a, b       float64
	aa, ab, bb float64
}

func fitLogistic(sizes []float64, hits []bool) (l logistic, ok bool) {
	for range 60 {
		var ga, gb float64
		h := mat.NewSymDense(2, nil)
		for k, size := range sizes {
			x := math.Log(size)
			p := l.at(size)
			d := -p
			if hits[k] {
				d++
			}
			w := p * (1 - p)
			ga, gb = ga+d, gb+d*x
			h.SetSym(0, 0, h.At(0, 0)+w)
			h.SetSym(0, 1, h.At(0, 1)+w*x)
			h.SetSym(1, 1, h.At(1, 1)+w*x*x)
		}
		var inv mat.Dense
		if inv.Inverse(h) != nil {
			return l, false
		}
		l.aa, l.ab, l.bb = inv.At(0, 0), inv.At(0, 1), inv.At(1, 1)
		da, db := l.aa*ga+l.ab*gb, l.ab*ga+l.bb*gb
		step := min(1, 2/max(math.Abs(da), math.Abs(db), 1e-12))
		l.a, l.b = l.a+step*da, l.b+step*db
		if math.Abs(da)+math.Abs(db) < 1e-9 {
			return l, l.b > 0 && l.b < 50
		}
	}
	return l, false
}

func (l logistic) at(size float64) float64 { return 1 / (1 + math.Exp(-l.a-l.b*math.Log(size))) }

// below is the curve so many standard deviations lower, from the normal
// approximation of a + b·ln size; band the curve with its bounds at 95 %.
func (l logistic) below(size, deviations float64) float64 {
	x := math.Log(size)
	return 1 / (1 + math.Exp(-l.a-l.b*x+deviations*math.Sqrt(l.aa+2*x*l.ab+x*x*l.bb)))
}

func (l logistic) band(size float64) (p, lo, hi float64) {
	return l.at(size), l.below(size, 1.96), l.below(size, -1.96)
}

// sizeAt is the size found with that chance, and the one found so with 95 %
// confidence, from which the lower bound of the band reaches it; +Inf if it
// never does.
func (l logistic) sizeAt(share float64) (size, sure float64) {
	size, sure = math.Exp((math.Log(share/(1-share))-l.a)/l.b), math.Inf(1)
	for s := size; s < 100*size; s *= 1.005 {
		if l.below(s, 1.645) >= share {
			return size, s
		}
	}
	return size, sure
}

// The fit finds back the curve that hits were drawn from, and its band holds it.
func TestLogisticComesBack(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	truth := logistic{a: 3, b: 4}
	within, runs := 0, 200
	for range runs {
		var sizes []float64
		var hits []bool
		for range 120 {
			s := 0.15 + random.Float64()
			sizes, hits = append(sizes, s), append(hits, random.Float64() < truth.at(s))
		}
		l, ok := fitLogistic(sizes, hits)
		if !ok {
			t.Fatal("no fit")
		}
		if _, lo, hi := l.band(0.5); lo <= truth.at(0.5) && truth.at(0.5) <= hi {
			within++
		}
	}
	// of 200 bands of 95 % ten miss, give or take three
	if within < 180 || within > 199 {
		t.Errorf("%d of %d bands hold the truth, want about 190", within, runs)
	}
}

// TestSpotCurve is a hit or miss study of bare spots: four spots of known width on
// heads of all coats, lights and cameras, and the same heads without any. It also
// sets diameters that were measured against those drawn, for the doubt that a
// verdict counts in. SPOTS=n draws n heads.
func TestSpotCurve(t *testing.T) {
	heads, _ := strconv.Atoi(os.Getenv("SPOTS"))
	if heads == 0 {
		t.Skip("a study: SPOTS=60 draws 120 heads; a few say nothing")
	}
	var mm, px []float64
	var hits []bool
	byMM, byPx := newHitMiss(0.2, 0.3, 0.4, 0.5, 0.6, 0.8), newHitMiss(5, 10, 15, 20, 30, 40)
	clean, stray, wide, lost := 0, 0, 0, 0
	var off []float64 // ln of measured over drawn
	for n := range heads {
		spec := curveScene(n)
		if heads < curveHeads { // spread over coats and lights
			spec = curveScene(n * curveHeads / heads)
		}
		if ph, _, ok := curvePhoto(t, spec); ok {
			clean++
			stray += len(ph.BareSpots)
			for _, s := range ph.BareSpots {
				if *s.DiameterMM >= DefaultLimits().BareSpotMM {
					wide++
				}
			}
		}
		spec.Pieces[0].Bare = bareSpotsOn(rand.New(rand.NewPCG(5, uint64(n))))
		ph, truth, ok := curvePhoto(t, spec)
		if !ok {
			lost++
			continue
		}
		for _, b := range truth.BareSpots {
			if b.DiameterMM < 0.1 {
				continue // a crumb of a spot that the outline cuts
			}
			hit := false
			for _, s := range ph.BareSpots {
				if math.Hypot(s.X-b.X, s.Y-b.Y)*spec.MMPerPx < 0.5*b.DiameterMM {
					hit = true
					off = append(off, math.Log(*s.DiameterMM/b.DiameterMM))
				}
			}
			mm, px, hits = append(mm, b.DiameterMM), append(px, b.DiameterMM/spec.MMPerPx), append(hits, hit)
			byMM.add(b.DiameterMM, hit)
			byPx.add(b.DiameterMM/spec.MMPerPx, hit)
		}
	}
	byMM.print(t, "mm")
	byPx.print(t, "px")
	for unit, sizes := range map[string][]float64{"mm": mm, "px": px} {
		l, ok := fitLogistic(sizes, hits)
		if !ok {
			t.Logf("%s: no curve fits", unit)
			continue
		}
		line := ""
		for _, s := range map[string][]float64{"mm": {0.2, 0.3, 0.4, 0.5, 0.7, 0.9}, "px": {6, 10, 15, 20, 30, 40}}[unit] {
			p, lo, hi := l.band(s)
			line += fmt.Sprintf("  %v %s: %.0f %% (%.0f to %.0f)", s, unit, 100*p, 100*lo, 100*hi)
		}
		half, _ := l.sizeAt(0.5)
		most, sure := l.sizeAt(0.9)
		t.Logf("logistic%s; half of those of %.2g %s are found, nine in ten of %.2g %s (%.2g with 95 %% confidence)", line, half, unit, most, unit, sure)
	}
	mean, square := 0.0, 0.0
	for _, v := range off {
		mean, square = mean+v/float64(len(off)), square+v*v/float64(len(off))
	}
	t.Logf("%d false on %d clean heads, %d of them as wide as the limit; %d heads with spots refused or lost; %d diameters off by a factor of %.3f on average, %.3f root mean square",
		stray, clean, wide, lost, len(off), math.Exp(mean), math.Sqrt(square))
	hit, seen := 0, 0
	for k, from := range byMM.from {
		if from >= 0.6 {
			hit, seen = hit+byMM.hit[k], seen+byMM.seen[k]
		}
	}
	if seen >= 3 && 2*hit < seen {
		t.Errorf("%d of %d spots of 0.6 mm and more are found, want half", hit, seen)
	}
	if rate := float64(stray) / float64(max(clean, 1)); rate > 3 {
		t.Errorf("%.1f false spots a clean head, want 3 at most", rate)
	}
}

// A wide spot whose edge fades over half a millimetre is found on a pale coat: at
// its edge the powder thins out, it does not end.
func TestSoftSpotOnPaleCoat(t *testing.T) {
	t.Parallel()
	spec := onCard(scene.Ball, scene.Coat{Pigment: scene.RGB{0.72, 0.6, 0.4}, HalfUM: 12})
	spec.Light = scene.Tent(6500)
	spec.Pieces[0].Bare = []scene.Bare{{At: scene.Place{AlongMM: -0.5, AroundDeg: 15, Facing: true}, WidthMM: 1.3, SoftMM: 0.5}}
	ph, _, truth := measured(t, spec)
	drawn := truth.BareSpots[0]
	if !slices.ContainsFunc(ph.BareSpots, func(s BareSpot) bool {
		return math.Hypot(s.X-drawn.X, s.Y-drawn.Y)*spec.MMPerPx < 0.2 && *s.DiameterMM >= DefaultLimits().BareSpotMM
	}) {
		t.Errorf("a spot of %.2f mm is not found", drawn.DiameterMM)
	}
}
