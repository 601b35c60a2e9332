package study

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// A Distance is how far two groups' mean colours lie apart. Noise always adds
// to a distance, so DeltaE00 has the share that the pieces' scatter alone would
// give taken out, and is 0 where that is all there is.
//
// In covers the true distance at 95 %; it starts at 0 unless the difference is
// real (P ≤ 0.05). AtMost is the one-sided 95 % bound that equivalence is judged
// by. All three need two pieces a group and are nil below that.
type Distance struct {
	DeltaE00 float64   `json:"delta_e00"`
	In       *Interval `json:"interval"`
	AtMost   *float64  `json:"at_most"`
	P        *float64  `json:"p"`
	sd       float64   // of one piece along the difference, in ΔE00
}

// distance compares the mean curves of two groups, a[piece][angle] and
// b[piece][angle], as the root mean square of ΔE00 over the angles with the
// given weights, which sum to 1.
//
// Around the midpoint of the two means ΔE00 is nearly a plain distance, so each
// piece becomes a point in a space where it is one, and the group means two
// points there. The test is the squared distance over the trace of its
// covariance against an F distribution with Box's degrees of freedom, as
// correlated and unlike variances need (G. E. P. Box, Ann. Math. Stat. 25,
// 290–302 (1954)). The interval is Welch's along the line between the means. The
// direction of that line is itself uncertain, the more the shorter it is, so to
// that share the pieces' overall scatter stands in for the scatter along it.
// TestDistanceCovers shows the rates this keeps from two pieces a group up.
func distance(a, b [][]calib.Lab, weights []float64) Distance {
	meanA, meanB := meanCurve(a), meanCurve(b)
	exact := 0.0
	for k := range weights {
		exact += weights[k] * math.Pow(calib.DeltaE2000(meanA[k], meanB[k]), 2)
	}
	exact = math.Sqrt(exact)
	if len(a) < 2 || len(b) < 2 {
		return Distance{DeltaE00: exact}
	}
	flats := make([]flat, len(weights))
	for k := range flats {
		flats[k] = flatAt(midpoint(meanA[k], meanB[k]))
	}
	pointsA, pointsB := flatten(a, flats, weights), flatten(b, flats, weights)
	centreA, centreB := meanPoint(pointsA), meanPoint(pointsB)
	line := make([]float64, len(centreA))
	apart := 0.0
	for i := range line {
		line[i] = centreB[i] - centreA[i]
		apart += line[i] * line[i]
	}
	apart = math.Sqrt(apart)
	alongA, allA, crossA := scatter(pointsA, centreA, line)
	alongB, allB, crossB := scatter(pointsB, centreB, line)
	nA, nB := float64(len(a)), float64(len(b))
	along, all := alongA/nA+alongB/nB, allA/nA+allB/nB
	if all == 0 || apart == 0 { // pieces alike to the last digit: no scatter to judge by
		return Distance{DeltaE00: exact}
	}
	df := welchDF(alongA/nA, len(a), alongB/nB, len(b))
	squared := crossA/(nA*nA) + crossB/(nB*nB) + 2*crossTrace(pointsA, centreA, pointsB, centreB)/(nA*nB)
	dimensions := all * all / squared // as many as carry the scatter
	p := distuv.F{D1: dimensions, D2: dimensions * df}.Survival(apart * apart / all)

	share := math.Min(1, all/(apart*apart))
	variance := (1-share)*along + share*math.Max(along, all/dimensions)
	se := math.Sqrt(variance)
	scale := exact / apart // the flat space is right in the small; keep its ratios only
	in := Interval{0, scale * (apart + tQuantile(df)*se)}
	if p <= 1-Confidence {
		in.Lo = scale * math.Max(0, math.Sqrt(math.Max(0, apart*apart-all+along))-tQuantile(df)*se)
	}
	atMost := scale * (apart + distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(Confidence)*se)
	corrected := scale * math.Sqrt(math.Max(0, apart*apart-all))
	return Distance{corrected, &in, &atMost, &p, scale * math.Sqrt(variance/(1/nA+1/nB))}
}

// scatter returns the variance of points along the line, the sum of variances
// in all directions, and the sum of squares of the covariance matrix.
func scatter(points [][]float64, centre, line []float64) (along, all, squared float64) {
	length := 0.0
	for _, x := range line {
		length += x * x
	}
	n1 := float64(len(points) - 1)
	for _, p := range points {
		dot := 0.0
		for i := range p {
			d := p[i] - centre[i]
			all += d * d / n1
			dot += d * line[i]
		}
		if length > 0 {
			along += dot * dot / length / n1
		}
	}
	return along, all, crossTrace(points, centre, points, centre)
}

// crossTrace is the trace of the product of two groups' covariance matrices,
// from the pieces' inner products and without the matrices.
func crossTrace(a [][]float64, centreA []float64, b [][]float64, centreB []float64) float64 {
	sum := 0.0
	for _, p := range a {
		for _, q := range b {
			dot := 0.0
			for i := range p {
				dot += (p[i] - centreA[i]) * (q[i] - centreB[i])
			}
			sum += dot * dot
		}
	}
	return sum / float64(len(a)-1) / float64(len(b)-1)
}

// A flat is the upper triangular matrix that turns CIELAB near one colour into a
// space where plain distance is ΔE00.
type flat [3][3]float64

// flatAt measures ΔE00 around the colour: it is close to a quadratic form there.
func flatAt(at calib.Lab) flat {
	squared := func(l, a, b float64) float64 { // across steps of one unit, centred
		return math.Pow(calib.DeltaE2000(calib.Lab{L: at.L - l/2, A: at.A - a/2, B: at.B - b/2},
			calib.Lab{L: at.L + l/2, A: at.A + a/2, B: at.B + b/2}), 2)
	}
	ll, aa, bb := squared(1, 0, 0), squared(0, 1, 0), squared(0, 0, 1)
	la, lb, ab := (squared(1, 1, 0)-ll-aa)/2, (squared(1, 0, 1)-ll-bb)/2, (squared(0, 1, 1)-aa-bb)/2
	var f flat // Cholesky's factor
	f[0][0] = math.Sqrt(ll)
	f[0][1], f[0][2] = la/f[0][0], lb/f[0][0]
	f[1][1] = math.Sqrt(aa - f[0][1]*f[0][1])
	f[1][2] = (ab - f[0][1]*f[0][2]) / f[1][1]
	f[2][2] = math.Sqrt(math.Max(0, bb-f[0][2]*f[0][2]-f[1][2]*f[1][2]))
	return f
}

// flatten turns curves into points, three coordinates an angle, so that squared
// distances are the weighted mean of ΔE00².
func flatten(curves [][]calib.Lab, flats []flat, weights []float64) [][]float64 {
	points := make([][]float64, len(curves))
	for i, curve := range curves {
		for k, c := range curve {
			f, w := flats[k], math.Sqrt(weights[k])
			points[i] = append(points[i],
				w*(f[0][0]*c.L+f[0][1]*c.A+f[0][2]*c.B), w*(f[1][1]*c.A+f[1][2]*c.B), w*f[2][2]*c.B)
		}
	}
	return points
}

func meanPoint(points [][]float64) []float64 {
	mean := make([]float64, len(points[0]))
	for _, p := range points {
		for i, x := range p {
			mean[i] += x / float64(len(points))
		}
	}
	return mean
}

func midpoint(a, b calib.Lab) calib.Lab {
	return calib.Lab{L: (a.L + b.L) / 2, A: (a.A + b.A) / 2, B: (a.B + b.B) / 2}
}

func meanCurve(curves [][]calib.Lab) []calib.Lab {
	mean := make([]calib.Lab, len(curves[0]))
	for _, curve := range curves {
		for k, c := range curve {
			n := float64(len(curves))
			mean[k].L += c.L / n
			mean[k].A += c.A / n
			mean[k].B += c.B / n
		}
	}
	return mean
}

// sharedAngles lists the viewing angles that every curve has.
func sharedAngles(curves ...[]inspect.TravelBin) []float64 {
	if len(curves) == 0 {
		return nil
	}
	var angles []float64
	for _, bin := range curves[0] {
		everywhere := true
		for _, c := range curves[1:] {
			if _, ok := at(c, bin.ViewingDeg); !ok {
				everywhere = false
			}
		}
		if everywhere {
			angles = append(angles, bin.ViewingDeg)
		}
	}
	slices.Sort(angles)
	return angles
}

// at is the curve's bin at a viewing angle.
func at(curve []inspect.TravelBin, viewingDeg float64) (inspect.TravelBin, bool) {
	for _, bin := range curve {
		if bin.ViewingDeg == viewingDeg {
			return bin, true
		}
	}
	return inspect.TravelBin{}, false
}

// labs returns the colours of the curves at the angles, curve by curve.
func labs(curves [][]inspect.TravelBin, angles []float64) [][]calib.Lab {
	out := make([][]calib.Lab, len(curves))
	for i, c := range curves {
		for _, deg := range angles {
			bin, _ := at(c, deg)
			out[i] = append(out[i], calib.Lab{L: bin.L, A: bin.A, B: bin.B})
		}
	}
	return out
}

// seenShares is how much of the visible surface lies at each angle, on average
// over the curves: weights that sum to 1 and are the same for every group.
func seenShares(curves [][]inspect.TravelBin, angles []float64) []float64 {
	weights := make([]float64, len(angles))
	total := 0.0
	for _, c := range curves {
		all := 0
		for _, bin := range c {
			all += bin.Px
		}
		for k, deg := range angles {
			bin, _ := at(c, deg)
			share := float64(bin.Px) / float64(max(1, all))
			weights[k] += share
			total += share
		}
	}
	for k := range weights {
		if total > 0 {
			weights[k] /= total
		} else {
			weights[k] = 1 / float64(len(weights)) // no pixel counts: all angles alike
		}
	}
	return weights
}
