package inspect

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"
)

// A spread is the largest difference among measured things, such as the colours
// at two viewing angles. Noise can only make a largest difference larger, so
// what noise alone would have added is taken out; nothing is left of a
// difference that noise explains.
type spread struct {
	most     float64    // in the unit of the things, e.g. ΔE00
	u        float64    // standard uncertainty: the longer arm of the interval as k = 1.96
	interval [2]float64 // 95 %; begins at 0 when there may be no difference at all
}

const (
	spreadDraws = 500
	spreadSure  = 0.95 // of the interval
)

// spreadNoise is the same noise for every measurement, so that the same photo
// always gives the same numbers.
var spreadNoise = sync.OnceValue(func() [][bins]float64 {
	random := rand.New(rand.NewPCG(1, 1))
	out := make([][bins]float64, spreadDraws)
	for k := range out {
		for i := range out[k] {
			out[k][i] = random.NormFloat64()
		}
	}
	return out
})

// spreadOf finds the spread of at most as many things as there are bins, from
// the distance between each two, i < j, their standard uncertainties u, and the
// part of it that is noise of each alone. What goes wrong for all together, such as
// viewing angles that are all too steep, makes no largest difference larger: the
// estimate goes by the noise, the interval by all.
//
// Take things that lie like those measured, but closer together or farther
// apart, their largest distance t, and add noise. The t at which the largest
// distance has a chance of one half to come out above what was measured is the
// estimate; those with a chance of 2.5 and 97.5 % bound the interval (inversion
// of a test, J. Neyman, Phil. Trans. R. Soc. A 236, 333–380, 1937). An
// uncertainty is taken as if all of it lay along each difference, which makes
// an interval too wide rather than too narrow; TestSpreadCovers has the rates.
func spreadOf(distance func(i, j int) float64, noise, u []float64) spread {
	type pair struct {
		i, j  int
		share float64 // of the largest distance
	}
	var pairs []pair
	most, own := 0.0, 0.0
	for j := range u {
		for i := range j {
			d := distance(i, j)
			pairs = append(pairs, pair{i, j, d})
			if d > most {
				most, own = d, math.Hypot(u[i], u[j])
			}
		}
	}
	for k, p := range pairs {
		pairs[k].share = float64(p.j-p.i) / float64(len(u)-1) // nothing between them: any order will do
		if most > 0 {
			pairs[k].share = p.share / most
		}
	}
	seen := make([]float64, spreadDraws)
	// quantile is what a share q of measurements stays below when the truth is t.
	quantile := func(doubt []float64, t, q float64) float64 {
		for k, z := range spreadNoise() {
			most := 0.0
			for _, p := range pairs {
				if d := math.Abs(t*p.share + doubt[p.j]*z[p.j] - doubt[p.i]*z[p.i]); d > most {
					most = d
				}
			}
			seen[k] = most
		}
		return nth(seen, int(q*spreadDraws))
	}
	// truth is the t under which a share q of measurements stays below d.
	truth := func(doubt []float64, d, q float64) float64 {
		low, high := 0.0, d+10*slices.Max(doubt)
		if quantile(doubt, 0, q) >= d {
			return 0
		}
		for high-low > 2e-3*high {
			if mid := (low + high) / 2; quantile(doubt, mid, q) < d {
				low = mid
			} else {
				high = mid
			}
		}
		return (low + high) / 2
	}
	const tail = (1 - spreadSure) / 2
	s := spread{most: truth(noise, most, 0.5)}
	// Less than noise usually gives is luck: it does not make a small truth sure.
	s.interval = [2]float64{truth(u, most, 1-tail), truth(u, max(most, quantile(u, 0, 0.5)), tail)}
	// The pair that came out farthest apart is as unsure as any other pair.
	s.interval[0] = min(s.interval[0], max(0, s.most-1.96*own))
	s.interval[1] = max(s.interval[1], s.most+1.96*own)
	s.u = max(s.interval[1]-s.most, s.most-s.interval[0]) / 1.96
	return s
}
