package study

import (
	"math"
	"math/rand/v2"
	"testing"

	"jigloupe/calib"
)

// Near a colour the flat space must give ΔE00 itself.
func TestFlatSpaceIsDeltaE00(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	worst := 0.0
	for range 2000 {
		c := calib.Lab{L: 20 + 60*random.Float64(), A: 120*random.Float64() - 60, B: 120*random.Float64() - 60}
		d := calib.Lab{L: c.L + random.NormFloat64(), A: c.A + random.NormFloat64(), B: c.B + random.NormFloat64()}
		p := flatten([][]calib.Lab{{c}, {d}}, []flat{flatAt(midpoint(c, d))}, []float64{1})
		got, want := 0.0, calib.DeltaE2000(c, d)
		for i := range p[0] {
			got += math.Pow(p[0][i]-p[1][i], 2)
		}
		worst = math.Max(worst, math.Abs(math.Sqrt(got)-want)/want)
	}
	if worst > 0.05 { // the formula's own curvature over a few units
		t.Errorf("flat space is off by %.1f %% at worst, want under 5 %%", 100*worst)
	}
}

// A painter invents pieces of one colour with a given scatter.
type painter struct {
	random *rand.Rand
	// Scatter of one piece in L, a, b: common to all its angles, and each angle's own.
	common, own [3]float64
}

func (p painter) piece(curve []calib.Lab) []calib.Lab {
	draw := func(sd [3]float64) calib.Lab {
		return calib.Lab{L: sd[0] * p.random.NormFloat64(), A: sd[1] * p.random.NormFloat64(), B: sd[2] * p.random.NormFloat64()}
	}
	shift := draw(p.common)
	out := make([]calib.Lab, len(curve))
	for k, c := range curve {
		own := draw(p.own)
		out[k] = calib.Lab{L: c.L + shift.L + own.L, A: c.A + shift.A + own.A, B: c.B + shift.B + own.B}
	}
	return out
}

func (p painter) group(curve []calib.Lab, n int) [][]calib.Lab {
	out := make([][]calib.Lab, n)
	for i := range out {
		out[i] = p.piece(curve)
	}
	return out
}

var shift8 = []calib.Lab{{L: 66, A: -15, B: 15}, {L: 66, A: -16, B: 12}, {L: 64, A: -17, B: 7}, {L: 58, A: -17, B: 2},
	{L: 48, A: -17, B: -2}, {L: 35, A: -15, B: -2}, {L: 27, A: -9, B: 0}, {L: 27, A: -5, B: 2}}

func moved(curve []calib.Lab, l, a, b float64) []calib.Lab {
	out := make([]calib.Lab, len(curve))
	for k, c := range curve {
		out[k] = calib.Lab{L: c.L + l, A: c.A + a, B: c.B + b}
	}
	return out
}

// The interval must hold the true difference at its rate, and call a difference
// that is not there real in 5 % at most: from few pieces, for scatter that is
// all lightness (film build, exposure), all directions, or each angle's own,
// for one angle and for a whole curve, and for no, small and large differences.
func TestDistanceCovers(t *testing.T) {
	const runs = 1500
	se := math.Sqrt(Confidence * (1 - Confidence) / runs)
	scatters := map[string]painter{
		"lightness":        {common: [3]float64{1, 0.2, 0.2}, own: [3]float64{0.1, 0.1, 0.1}},
		"all directions":   {common: [3]float64{0.5, 0.5, 0.5}, own: [3]float64{0.1, 0.1, 0.1}},
		"each angle's own": {common: [3]float64{0.1, 0.1, 0.1}, own: [3]float64{0.5, 0.5, 0.5}},
	}
	lowest, null := 1.0, 0.0
	for name, p := range scatters {
		p.random = rand.New(rand.NewPCG(8, 8))
		for _, n := range [][2]int{{3, 3}, {2, 8}, {3, 6}} {
			for _, move := range [][3]float64{{0, 0, 0}, {0.7, 0, 0}, {0, 0.5, 0.5}, {2, 0, 0}, {-3, 2, -2}} {
				for _, curve := range [][]calib.Lab{shift8, shift8[1:2]} {
					weights := make([]float64, len(curve))
					for k := range weights {
						weights[k] = 1 / float64(len(curve))
					}
					other := moved(curve, move[0], move[1], move[2])
					truth := distance([][]calib.Lab{curve}, [][]calib.Lab{other}, weights).DeltaE00
					held, alarms := 0, 0
					for range runs {
						d := distance(p.group(curve, n[0]), p.group(other, n[1]), weights)
						if d.In.Lo <= truth && truth <= d.In.Hi {
							held++
						}
						if *d.P <= 1-Confidence {
							alarms++
						} else if d.In.Lo > 0 {
							t.Fatalf("interval from %.3f though P is %.3f", d.In.Lo, *d.P)
						}
					}
					rate := float64(held) / runs
					lowest = math.Min(lowest, rate)
					if rate < Confidence-3*se {
						t.Errorf("%s, n %v, %d angles, ΔE00 %.2f: interval held it in %.3f, want %.2f", name, n, len(curve), truth, rate, Confidence)
					}
					if truth == 0 {
						null = math.Max(null, float64(alarms)/runs)
						if float64(alarms)/runs > 1-Confidence+3*se {
							t.Errorf("%s, n %v, %d angles: no difference called real in %.3f, want at most 0.05", name, n, len(curve), float64(alarms)/runs)
						}
					}
				}
			}
		}
	}
	t.Logf("lowest coverage %.3f, most false alarms %.3f", lowest, null)
}

// Two groups of the same paint look apart by noise alone; the estimate must not.
func TestDistanceIsNotNoise(t *testing.T) {
	p := painter{random: rand.New(rand.NewPCG(9, 9)), common: [3]float64{0.7, 0.4, 0.4}, own: [3]float64{0.4, 0.4, 0.4}}
	weights := []float64{0.125, 0.125, 0.125, 0.125, 0.125, 0.125, 0.125, 0.125}
	raw, squared := 0.0, 0.0
	other := moved(shift8, 0.8, -0.4, 0.4)
	truth := distance([][]calib.Lab{shift8}, [][]calib.Lab{other}, weights).DeltaE00
	const runs = 2000
	for range runs {
		a, b := p.group(shift8, 3), p.group(other, 3)
		d := distance(a, b, weights)
		squared += d.DeltaE00 * d.DeltaE00 / runs
		raw += math.Pow(distance([][]calib.Lab{meanCurve(a)}, [][]calib.Lab{meanCurve(b)}, weights).DeltaE00, 2) / runs
	}
	// Cutting at 0 leaves some of the bias; most must be gone.
	if got, was := math.Sqrt(squared)-truth, math.Sqrt(raw)-truth; got > was/2.5 {
		t.Errorf("ΔE00 %.2f is over-estimated by %.3f, uncorrected by %.3f", truth, got, was)
	}
}
