package study

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// Source: NIST/SEMATECH e-Handbook 6.3.3.2, 30 wafers of 50 chips. It rounds
// p̄ before the limits, hence 1.5e-4.
func TestPublishedPChart(t *testing.T) {
	var check testsAndCharts
	checkJSON(t, "11_tests_and_charts.json", &check)
	p := check.PChart
	c := PChart(p.Counts, slices.Repeat([]int{p.N}, len(p.Counts)))
	if !near(c.Centre, p.Centre, 1e-12) || !near(c.Points[0].Upper, p.UCL, 1e-9) || !near(c.Points[0].Lower, p.LCL, 1e-9) {
		t.Errorf("centre %v, limits %v to %v, want %v, %v, %v", c.Centre, c.Points[0].Lower, c.Points[0].Upper, p.Centre, p.LCL, p.UCL)
	}
	if !near(c.Points[0].Upper, 0.4103, 1.5e-4) || !near(c.Points[0].Lower, 0.0524, 1.5e-4) {
		t.Errorf("limits %v to %v, printed 0.0524 to 0.4103", c.Points[0].Lower, c.Points[0].Upper)
	}
	var above []int
	for _, s := range c.Signals {
		if s.From == s.To {
			above = append(above, s.From+1)
		}
	}
	if !slices.Equal(above, p.Above) {
		t.Errorf("samples %v above the limit, want %v", above, p.Above)
	}
}

// Source: NIST/SEMATECH e-Handbook 6.3.2.2, flow rate.
func TestPublishedIndividualsChart(t *testing.T) {
	var check testsAndCharts
	checkJSON(t, "11_tests_and_charts.json", &check)
	c := Individuals(check.Individuals.Data)
	if p := c.Points[0]; !near(c.Centre, check.Individuals.Mean, 1e-9) || !near(p.Upper, check.Individuals.UCL, 1e-6) || !near(p.Lower, check.Individuals.LCL, 1e-6) {
		t.Errorf("centre %v, limits %v to %v, want %+v", c.Centre, p.Lower, p.Upper, check.Individuals)
	}
	if len(c.Signals) != 0 {
		t.Errorf("signals %v, the handbook calls it in control", c.Signals)
	}
}

func TestRuns(t *testing.T) {
	up := []float64{1, 2, 1, 2, 1, 2, 1, 2, 6, 7, 6, 7, 6, 7, 6, 7}
	c := Individuals(up)
	var says []string
	for _, s := range c.Signals {
		if s.To > s.From {
			says = append(says, s.Says)
		}
	}
	if want := []string{"8 points in a row below the centre line", "8 points in a row above the centre line"}; !slices.Equal(says, want) {
		t.Errorf("runs %q, want %q", says, want)
	}
	if s := Individuals(up[1:15]).Signals; len(s) != 0 {
		t.Errorf("seven in a row: signals %v, want none", s)
	}
}

// Results that are all alike but for rounding are no run and beyond no limit.
func TestRoundingIsNoSignal(t *testing.T) {
	for _, v := range []float64{0.1, 0.3, 0.7, 2.3} { // of some of them the mean is not exactly the value
		if c := Individuals(slices.Repeat([]float64{v}, 30)); len(c.Signals) != 0 {
			t.Errorf("30 times %v: signals %+v, want none", v, c.Signals)
		}
	}
}

// With small batches and rare faults most batches have none, all below the
// centre line. Eight of those are no run, and one faulty piece is no alarm.
func TestRareFaultsInSmallBatches(t *testing.T) {
	counts := make([]int, 40)
	of := slices.Repeat([]int{9}, 40)
	counts[10], counts[30] = 1, 1
	if c := PChart(counts, of); len(c.Signals) != 0 {
		t.Errorf("signals %+v, want none", c.Signals)
	}
	counts[20] = 3
	if c := PChart(counts, of); len(c.Signals) != 1 || c.Signals[0].From != 20 {
		t.Errorf("signals %+v, want batch 20", c.Signals)
	}
}

// Two pieces a batch at one half: none faulty has a chance of 1/4, so four such
// batches are as rare as eight points on one side. Points on the line count for neither.
func TestRunsOfSmallBatches(t *testing.T) {
	c := PChart([]int{0, 0, 0, 0, 2, 2, 2, 2}, slices.Repeat([]int{2}, 8))
	if len(c.Signals) != 2 || c.Signals[0].To != 3 || c.Signals[1].From != 4 {
		t.Errorf("signals %+v, want batches 1–4 and 5–8", c.Signals)
	}
	if c := PChart([]int{0, 0, 1, 0, 2, 2, 1, 2}, slices.Repeat([]int{2}, 8)); len(c.Signals) != 0 {
		t.Errorf("signals %+v, want none", c.Signals)
	}
}

// Known limits and both rules give a false alarm every 152.7 points on
// average: C. W. Champ and W. H. Woodall, Technometrics 29, 393–399 (1987).
func TestFalseAlarmEvery153Points(t *testing.T) {
	random := rand.New(rand.NewPCG(153, 153))
	const runs = 4000
	total := 0
	for range runs {
		c := Chart{}
		run, last := 0, 0
		for {
			c.Points = append(c.Points[:0], ChartPoint{random.NormFloat64(), -3, 3, 0.5, 0.5})
			total++
			// signals looks at whole series; feed it the current run only, which is all that its rules need.
			side := sideOf(c, 0)
			if side == last {
				run++
			} else {
				run, last = 1, side
			}
			c.Points = slices.Repeat(c.Points, run)
			if len(signals(c)) > 0 {
				break
			}
		}
	}
	if got := float64(total) / runs; !near(got, 152.73, 8) { // the run length's own spread is about as large as its mean
		t.Errorf("a false alarm every %.1f points, published 152.7", got)
	}
}

// Where nothing changes, small batches must not alarm more often than large ones.
func TestPChartFalseAlarms(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	for _, c := range []struct {
		n int
		p float64
	}{{6, 0.05}, {9, 0.2}, {20, 0.1}, {50, 0.25}} {
		points, alarms := 0, 0
		for range 400 {
			counts := make([]int, 25)
			for i := range counts {
				for range c.n {
					if random.Float64() < c.p {
						counts[i]++
					}
				}
			}
			if slices.Max(counts) == 0 {
				continue
			}
			points += 25
			alarms += len(PChart(counts, slices.Repeat([]int{c.n}, 25)).Signals)
		}
		if every := float64(points) / float64(max(1, alarms)); every < 100 {
			t.Errorf("n %d, share %v: a false alarm every %.0f points, want over 100", c.n, c.p, every)
		}
	}
}
