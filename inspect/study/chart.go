package study

import (
	"fmt"
	"math"
)

// A Chart is a control chart: results in order of time with the limits within
// which a process that does not change keeps them.
type Chart struct {
	Centre  float64      `json:"centre"`
	Points  []ChartPoint `json:"points"`
	Signals []Signal     `json:"signals"`
}

// ChartPoint is one batch on a chart.
type ChartPoint struct {
	Value float64 `json:"value"`
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
	below float64 // chance of a point below the centre, and above it, while nothing changes
	above float64
}

// A Signal is a place where a chart says that the process moved.
type Signal struct {
	From int    `json:"from"` // first point of the run, from 0
	To   int    `json:"to"`   // last point of it
	Says string `json:"says"`
}

const (
	// outside is the chance of a point beyond a limit while nothing changes,
	// that of three standard deviations on one side.
	outside = 0.00135
	// runChance is the chance of a run on one side that makes a signal: eight
	// points each as likely above as below (NIST/SEMATECH e-Handbook, 6.3.2).
	runChance = 1.0 / 256
	// rounding, as a share of the centre, must not take a point off a line it is on.
	rounding = 1e-12
)

// PChart charts the share of faulty pieces, counts[i] of of[i] in batch i, in
// order of time. Limits are three standard deviations (NIST/SEMATECH
// e-Handbook, 6.3.3.2); where fewer than five faulty or five good pieces are
// expected that breaks down, and they are the exact binomial ones.
func PChart(counts, of []int) Chart {
	faulty, all := 0, 0
	for i := range counts {
		faulty += counts[i]
		all += of[i]
	}
	c := Chart{Centre: float64(faulty) / float64(all)}
	for i, count := range counts {
		n := float64(of[i])
		three := 3 * math.Sqrt(c.Centre*(1-c.Centre)/n)
		point := ChartPoint{Value: float64(count) / n, Lower: math.Max(0, c.Centre-three), Upper: math.Min(1, c.Centre+three)}
		if n*math.Min(c.Centre, 1-c.Centre) < 5 {
			point.Lower, point.Upper = binomialLimits(of[i], c.Centre)
		}
		expected := of[i] * faulty / all
		point.below = binomialCDF(expected, of[i], c.Centre)
		point.above = 1 - point.below
		if of[i]*faulty%all == 0 { // then a point can lie on the centre line
			point.below -= binomialPMF(expected, of[i], c.Centre)
		}
		c.Points = append(c.Points, point)
	}
	c.Signals = signals(c)
	return c
}

// binomialLimits are the least and the largest share among n that are not
// rarer than outside on their side.
func binomialLimits(n int, p float64) (lower, upper float64) {
	k := 0
	for binomialCDF(k, n, p) <= outside {
		k++
	}
	lower = float64(k) / float64(n)
	for k = n; 1-binomialCDF(k-1, n, p) <= outside && k > 0; k-- {
	}
	return lower, float64(k) / float64(n)
}

// Individuals charts single results in order of time, one a batch. Limits are
// three standard deviations, estimated from the mean difference of neighbours
// so that a slow drift does not widen them (NIST/SEMATECH e-Handbook, 6.3.2.2).
// It needs two results.
func Individuals(values []float64) Chart {
	movingRange, sum := 0.0, 0.0
	for i, v := range values {
		sum += v
		if i > 0 {
			movingRange += math.Abs(v - values[i-1])
		}
	}
	c := Chart{Centre: sum / float64(len(values))}
	const d2 = 1.128 // mean range of two draws over the standard deviation
	three := 3 * movingRange / float64(len(values)-1) / d2
	for _, v := range values {
		c.Points = append(c.Points, ChartPoint{v, c.Centre - three, c.Centre + three, 0.5, 0.5})
	}
	c.Signals = signals(c)
	return c
}

// signals finds points beyond a limit and runs on one side of the centre. Both
// rules together give a false alarm about every 150 points.
func signals(c Chart) []Signal {
	found := []Signal{}
	slack := rounding * math.Abs(c.Centre)
	for i, p := range c.Points {
		switch {
		case p.Value > p.Upper+slack:
			found = append(found, Signal{i, i, "one point above the upper limit"})
		case p.Value < p.Lower-slack:
			found = append(found, Signal{i, i, "one point below the lower limit"})
		}
	}
	for start := 0; start < len(c.Points); {
		side := sideOf(c, start)
		end, chance := start, 1.0
		for ; end < len(c.Points) && sideOf(c, end) == side; end++ {
			if side > 0 {
				chance *= c.Points[end].above
			} else {
				chance *= c.Points[end].below
			}
		}
		if side != 0 && chance <= runChance {
			word := "below"
			if side > 0 {
				word = "above"
			}
			found = append(found, Signal{start, end - 1, fmt.Sprintf("%d points in a row %s the centre line", end-start, word)})
		}
		start = max(end, start+1)
	}
	return found
}

// sideOf is +1 for a point above the centre line, −1 below, 0 on it.
func sideOf(c Chart, i int) int {
	slack := rounding * math.Abs(c.Centre)
	switch v := c.Points[i].Value; {
	case v > c.Centre+slack:
		return 1
	case v < c.Centre-slack:
		return -1
	}
	return 0
}
