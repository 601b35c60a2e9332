// Package study turns graded batches into answers: what differs between groups
// of pieces, what a base coat changes, which treatment goes with which fault,
// how many pieces of a lot to look at, and whether the process has moved.
//
// The piece is always the sample, never the photo or the pixel: three pieces
// photographed ten times each are three.
package study

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Confidence is the level of every interval in this package.
const Confidence = 0.95

// An Interval holds the true value with the stated confidence.
type Interval struct {
	Lo float64 `json:"lo"`
	Hi float64 `json:"hi"`
}

// A Rate is a share of pieces with its Wilson interval.
type Rate struct {
	Count int      `json:"count"`
	Of    int      `json:"of"`
	In    Interval `json:"interval"` // in [0, 1]
}

// Share is the observed share in [0, 1]. It is NaN for no pieces.
func (r Rate) Share() float64 { return float64(r.Count) / float64(r.Of) }

// NewRate counts count pieces among of. For no pieces the interval is [0, 1].
func NewRate(count, of int) Rate {
	return Rate{count, of, Wilson(count, of, Confidence)}
}

// Wilson returns the score interval of a share of count among n at the given
// confidence. Its coverage is right on average over shares and at small n can
// fall a few points short at some; ClopperPearson's never does.
//
// E. B. Wilson, J. Am. Stat. Assoc. 22, 209–212 (1927); checked against
// R. G. Newcombe, Statist. Med. 17, 857–872 (1998), Table I.
func Wilson(count, n int, confidence float64) Interval {
	if n == 0 {
		return Interval{0, 1}
	}
	z := distuv.UnitNormal.Quantile(0.5 + confidence/2)
	p, m := float64(count)/float64(n), float64(n)
	mid := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	in := Interval{math.Max(0, mid-half), math.Min(1, mid+half)}
	if count == 0 {
		in.Lo = 0 // exactly, where rounding would leave 1e-17
	}
	if count == n {
		in.Hi = 1
	}
	return in
}

// clopperPearson returns the exact interval of a share of count among n: it
// holds the true share at least as often as the confidence says, usually more.
//
// C. J. Clopper and E. S. Pearson, Biometrika 26, 404–413 (1934).
func clopperPearson(count, n int, confidence float64) Interval {
	in := Interval{0, 1}
	k, tail := float64(count), (1-confidence)/2
	if count > 0 {
		in.Lo = distuv.Beta{Alpha: k, Beta: float64(n) - k + 1}.Quantile(tail)
	}
	if count < n {
		in.Hi = distuv.Beta{Alpha: k + 1, Beta: float64(n) - k}.Quantile(1 - tail)
	}
	return in
}

// rateDifference returns the interval of the share b minus the share a, built
// from the two score intervals.
//
// R. G. Newcombe, Statist. Med. 17, 873–890 (1998), method 10.
func rateDifference(a, b Rate) Interval {
	if a.Of == 0 || b.Of == 0 {
		return Interval{-1, 1}
	}
	pa, pb := a.Share(), b.Share()
	return Interval{
		pb - pa - math.Hypot(pb-b.In.Lo, a.In.Hi-pa),
		pb - pa + math.Hypot(b.In.Hi-pb, pa-a.In.Lo),
	}
}

// tQuantile is Student's t for a two-sided interval at the package's
// confidence with df degrees of freedom.
func tQuantile(df float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(0.5 + Confidence/2)
}

// welchDF is the effective number of degrees of freedom of a sum of two squared
// standard errors, each from n−1 differences: Welch's, but no more than two
// groups of the smaller size would have. Without that cap, 2 pieces against 8
// give intervals that hold the truth in 91 % instead of 95.
//
// B. L. Welch, Biometrika 34, 28–35 (1947).
func welchDF(se2A float64, nA int, se2B float64, nB int) float64 {
	dfA, dfB := float64(nA-1), float64(nB-1)
	if se2A+se2B == 0 {
		return math.Min(dfA, dfB)
	}
	welch := (se2A + se2B) * (se2A + se2B) / (se2A*se2A/dfA + se2B*se2B/dfB)
	return math.Min(welch, 2*math.Min(dfA, dfB))
}
