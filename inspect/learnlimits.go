package inspect

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Learnt limits are upper limits of statistical tolerance intervals: with this
// confidence, at least this share of pieces like the good ones keep to each.
const (
	learntShare      = 0.99
	learntConfidence = 0.95
	learntLeast      = 5 // pieces; with fewer the limits would be several times as wide as the pieces differ
)

// LearnLimits sets limits from pieces that somebody calls good, and says for
// each in a sentence where it comes from. A limit for which there are too few
// measured pieces, or in which they do not differ at all, stays the ordinary
// one. The values are taken as normally distributed; many faults are rarer
// than that, so the limits are rough where few pieces show any.
func LearnLimits(pieces []Piece) (l Limits, sources []string) {
	l = DefaultLimits()
	for _, m := range []struct {
		name  string
		unit  string
		value func(*Piece) (value float64, measured bool)
		set   func(limit float64) (rounded float64)
	}{
		{"bare_area_pct", " %", goodBareArea, func(v float64) float64 { l.BareAreaPct = roundUp(v); return l.BareAreaPct }},
		{"bare_spot_mm", " mm", goodBareSpot, func(v float64) float64 { l.BareSpotMM = roundUp(v); return l.BareSpotMM }},
		{"lump_height_mm", " mm", goodLump, func(v float64) float64 { l.LumpHeightMM = roundUp(v); return l.LumpHeightMM }},
		{"outline_deviation_mm", " mm", goodOutline, func(v float64) float64 { l.OutlineDeviationMM = roundUp(v); return l.OutlineDeviationMM }},
		// so many fail a piece: one more than a good one may have
		{"pinholes", "", goodPinholes, func(v float64) float64 { l.Pinholes = int(v) + 1; return float64(l.Pinholes) }},
	} {
		var values []float64
		for k := range pieces {
			if v, ok := m.value(&pieces[k]); ok {
				values = append(values, v)
			}
		}
		if len(values) < learntLeast {
			sources = append(sources, fmt.Sprintf("%s: measured on %d of %d pieces, %d are needed; the ordinary limit", m.name, len(values), len(pieces), learntLeast))
			continue
		}
		mean, sd := stat.MeanStdDev(values, nil)
		if sd == 0 {
			sources = append(sources, fmt.Sprintf("%s: %.3g%s on each of %d pieces; the ordinary limit", m.name, mean, m.unit, len(values)))
			continue
		}
		k := toleranceFactor(len(values), learntShare, learntConfidence)
		limit := m.set(mean + k*sd)
		sources = append(sources, fmt.Sprintf("%s: %d pieces, mean %.3g%s, standard deviation %.3g%s; %.3g + %.2f × %.3g, rounded up to %g",
			m.name, len(values), mean, m.unit, sd, m.unit, mean, k, sd, limit))
	}
	return l, sources
}

// toleranceFactor is k such that, with the given confidence, at least the given
// share of a normal distribution lies below mean + k·s of n values drawn from
// it. The share lies below when k·s ≥ z·σ − (mean − μ), z being the normal
// quantile at share, that is when a noncentral t with n − 1 degrees of freedom
// and noncentrality z√n is at most k√n; so k is its quantile at confidence,
// over √n. From memory, this is the one-sided interval of ISO 16269-6.
//
// A noncentral t is (Z + δ)/√(χ²/ν), so that its distribution function at t is
// the mean of Φ(t·√(χ²/ν) − δ) over χ²; the mean is taken at the middles of
// equally likely slices, which gives k to better than 0.001 from n = 5 on.
func toleranceFactor(n int, share, confidence float64) float64 {
	const slices = 4000
	nu := float64(n - 1)
	chi := make([]float64, slices) // √(χ²/ν)
	for i := range chi {
		chi[i] = math.Sqrt(distuv.ChiSquared{K: nu}.Quantile((float64(i)+0.5)/slices) / nu)
	}
	root := math.Sqrt(float64(n))
	delta := distuv.UnitNormal.Quantile(share) * root
	low, high := 0.0, 1000.0
	for high-low > 1e-6 {
		k := (low + high) / 2
		sum := 0.0
		for _, c := range chi {
			sum += distuv.UnitNormal.CDF(k*root*c - delta)
		}
		if sum/slices < confidence {
			low = k
		} else {
			high = k
		}
	}
	return high
}

func goodBareArea(p *Piece) (float64, bool) {
	if p.Coverage == nil || p.Coverage.BareAreaPct == nil {
		return 0, false
	}
	return *p.Coverage.BareAreaPct, true
}

func goodBareSpot(p *Piece) (widest float64, measured bool) {
	for _, ph := range p.Photos {
		measured = measured || ph.Usable && ph.ScaleMMPerPx != nil && ph.Coverage != nil
		for _, s := range ph.BareSpots {
			if s.DiameterMM != nil {
				widest = max(widest, *s.DiameterMM)
			}
		}
	}
	return widest, measured
}

func goodLump(p *Piece) (float64, bool) {
	switch {
	case p.Relief == nil || p.Relief.Lumps == nil:
		return 0, false
	case p.Relief.LumpHeightMM == nil:
		return 0, *p.Relief.Lumps == 0 // a lump of unknown height says nothing
	}
	return *p.Relief.LumpHeightMM, true
}

func goodOutline(p *Piece) (float64, bool) {
	if p.Relief == nil || p.Relief.OutlineDeviationMM == nil {
		return 0, false
	}
	return math.Abs(*p.Relief.OutlineDeviationMM), true
}

func goodPinholes(p *Piece) (float64, bool) {
	if p.Relief == nil || p.Relief.Pinholes == nil {
		return 0, false
	}
	return float64(*p.Relief.Pinholes), true
}

// roundUp rounds up to two significant digits.
func roundUp(v float64) float64 {
	if v <= 0 {
		return v
	}
	digits := 1 - math.Floor(math.Log10(v))
	unit := math.Pow(10, digits)
	return math.Ceil(v*unit-1e-9) / unit
}
