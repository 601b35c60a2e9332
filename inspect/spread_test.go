package inspect

import (
	"math"
	"math/rand/v2"
	"testing"

	"jigloupe/calib"
)

// line is the distance between places on a line.
func line(at []float64) func(i, j int) float64 {
	return func(i, j int) float64 { return math.Abs(at[i] - at[j]) }
}

// Of two things the one difference has a plain answer: where it is far beyond
// the noise it stays as it is, ± 1.96 times the two uncertainties together.
func TestSpreadOfTwo(t *testing.T) {
	s := spreadOf(line([]float64{3, 33}), []float64{0.6, 0.8}, []float64{0.6, 0.8})
	// 500 draws leave the quantiles of a normal distribution within 0.17 of its sd
	// in the middle, 0.36 at the ends: three of their standard errors
	if math.Abs(s.most-30) > 0.17 || math.Abs(s.interval[0]-28.04) > 0.36 || math.Abs(s.interval[1]-31.96) > 0.36 || math.Abs(s.u-1) > 0.2 {
		t.Errorf("%+v, want 30 ± 1 (28.04 to 31.96)", s)
	}
	if s := spreadOf(line([]float64{3, 33}), []float64{0, 0}, []float64{0, 0}); math.Abs(s.most-30) > 0.05 || s.u > 0.05 {
		t.Errorf("%+v without noise, want 30 ± 0", s)
	}
	// an error that all have in common makes no largest difference larger, but unsure
	if s := spreadOf(line([]float64{3, 8, 13}), []float64{0.1, 0.1, 0.1}, []float64{4, 4, 4}); math.Abs(s.most-10) > 0.1 || s.interval[0] > 0 || s.interval[1] < 18 {
		t.Errorf("%+v with hardly any noise of each alone, want 10 from 0 to more than 18", s)
	}
	if s := spreadOf(line([]float64{5, 5, 5}), []float64{1, 1, 1}, []float64{1, 1, 1}); s.most != 0 || s.interval[0] != 0 || s.interval[1] < 2 {
		t.Errorf("%+v of three equal colours of uncertainty 1, want 0, at most 2 or more", s)
	}
}

// The rates at which the interval holds the truth, over photos drawn at random:
// eight colours on a flat, a straight and a bent curve, with noise in all three
// directions of colour, and all of it along the curve. The largest difference
// of noisy colours itself is well above the truth on the flat curve; its
// estimate is not.
func TestSpreadCovers(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(2, 3))
	runs := 300
	if testing.Short() {
		runs = 80
	}
	u := []float64{1.5, 1.2, 1, 1, 1, 1.2, 1.5, 2}
	apart := func(x, y calib.Lab) float64 { return math.Hypot(x.L-y.L, math.Hypot(x.A-y.A, x.B-y.B)) }
	curves := map[string][]calib.Lab{"flat": {}, "straight": {}, "bent": {}}
	for k := range bins {
		x := float64(k) / (bins - 1)
		curves["flat"] = append(curves["flat"], calib.Lab{L: 50})
		curves["straight"] = append(curves["straight"], calib.Lab{L: 50 + 6*x})
		curves["bent"] = append(curves["bent"], calib.Lab{L: 50 - 4*x, A: 8 * math.Sin(math.Pi*x)})
	}
	for name, curve := range curves {
		truth := 0.0
		for i := range curve {
			for j := range i {
				truth = max(truth, apart(curve[i], curve[j]))
			}
		}
		for _, along := range []bool{false, true} {
			held, zero, raw, sum := 0, 0, 0.0, 0.0
			for range runs {
				seen := make([]calib.Lab, bins)
				for k, c := range curve {
					n := func() float64 { return u[k] / math.Sqrt(3) * random.NormFloat64() }
					seen[k] = calib.Lab{L: c.L + n(), A: c.A + n(), B: c.B + n()}
					if along {
						seen[k] = calib.Lab{L: c.L + math.Sqrt(3)*n(), A: c.A, B: c.B}
					}
				}
				distance := func(i, j int) float64 { return apart(seen[i], seen[j]) }
				s := spreadOf(distance, u, u)
				if s.interval[0] <= truth && truth <= s.interval[1] {
					held++
				}
				if s.interval[0] == 0 {
					zero++
				}
				most := 0.0
				for i := range seen {
					for j := range i {
						most = max(most, distance(i, j))
					}
				}
				raw, sum = raw+most/float64(runs), sum+s.most/float64(runs)
			}
			rate := float64(held) / float64(runs)
			t.Logf("%s, noise along %v: truth %.2f, raw %.2f, estimate %.2f, held %.3f, from 0 %.3f", name, along, truth, raw, sum, rate, float64(zero)/float64(runs))
			if slack := 3 * math.Sqrt(0.05*0.95/float64(runs)); rate < spreadSure-slack {
				t.Errorf("%s, noise along the curve %v: the interval held the truth in %.3f, want %.2f", name, along, rate, spreadSure)
			}
			if name == "flat" && (raw < 3 || sum > raw/2 || float64(zero)/float64(runs) < 0.95) {
				t.Errorf("flat: raw %.2f, estimate %.2f, %d of %d intervals from 0; want 3 and more, less than half of that, nearly all", raw, sum, zero, runs)
			}
		}
	}
}
