package study

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Source: AIAG, Measurement Systems Analysis, 4th ed. (2010), worked example of
// 10 parts, 3 appraisers, 3 trials; printed to six decimals.
func TestPublishedGaugeStudy(t *testing.T) {
	var check struct {
		Data    [][][]float64 `json:"data_part_operator_trial"`
		Printed struct {
			EV, AV, GRR, PV float64
			NDC             int `json:"ndc"`
		} `json:"printed"`
		Anova struct {
			P float64 `json:"p_interaction"`
		} `json:"anova"`
	}
	checkJSON(t, "11_gauge_rr_10x3x3.json", &check)
	g, err := gaugeStudy(check.Data)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"repeatability", g.Repeatability, check.Printed.EV},
		{"operator", g.Operator, check.Printed.AV},
		{"measurement", g.Measurement, check.Printed.GRR},
		{"piece", g.Piece, check.Printed.PV},
		{"interaction P", g.InteractionP, check.Anova.P},
	} {
		if !near(c.got, c.want, 2e-6) {
			t.Errorf("%s = %.7f, want %.6f", c.name, c.got, c.want)
		}
	}
	if g.Categories != check.Printed.NDC || !g.Pooled {
		t.Errorf("%d categories, pooled %v, want %d, true", g.Categories, g.Pooled, check.Printed.NDC)
	}
}

// When operators differ from piece to piece the interaction must be kept, and
// come back near what was put in.
func TestGaugeStudyFindsInteraction(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	draw := func(sd float64) float64 { return sd * random.NormFloat64() }
	results := make([][][]float64, 40)
	operator := make([]float64, 20)
	for j := range operator {
		operator[j] = draw(2)
	}
	for i := range results {
		piece := draw(5)
		results[i] = make([][]float64, len(operator))
		for j := range results[i] {
			together := draw(1.5)
			for range 3 {
				results[i][j] = append(results[i][j], 100+piece+operator[j]+together+draw(1))
			}
		}
	}
	g, err := gaugeStudy(results)
	if err != nil {
		t.Fatal(err)
	}
	// Tolerances are three standard errors of a standard deviation from so many draws.
	if g.Pooled || !near(g.Repeatability, 1, 0.06) || !near(g.Interaction, 1.5, 0.15) || !near(g.Operator, 2, 1) || !near(g.Piece, 5, 1.7) {
		t.Errorf("%+v, want repeatability 1, interaction 1.5, operator 2, piece 5", g)
	}
}

// By hand: mean squares 8 (pieces), 8 (operators), 72 (interaction), 2 (within).
// Pieces must be judged against the interaction, which leaves them nothing.
func TestGaugeStudyByHand(t *testing.T) {
	g, err := gaugeStudy([][][]float64{{{1, 3}, {5, 7}}, {{9, 11}, {1, 3}}})
	if err != nil {
		t.Fatal(err)
	}
	if g.Pooled || !near(g.Repeatability, math.Sqrt2, 1e-12) || !near(g.Interaction, math.Sqrt(35), 1e-12) || g.Piece != 0 || g.Operator != 0 {
		t.Errorf("%+v, want repeatability √2, interaction √35, piece and operator 0", g)
	}
}

func TestRepeat(t *testing.T) {
	// By hand: variances 2 (1 df) and 1 (2 df) pool to 4/3.
	r, err := repeatability([][]float64{{1, 3}, {4, 5, 6}, {9}})
	if err != nil {
		t.Fatal(err)
	}
	if !near(r.SD, math.Sqrt(4.0/3), 1e-12) || r.DF != 3 || r.Pieces != 2 {
		t.Errorf("Repeat = %+v, want sd %.6f on 3 df from 2 pieces", r, math.Sqrt(4.0/3))
	}
	if _, err := repeatability([][]float64{{1}, {2}}); err == nil {
		t.Error("no piece measured twice: want an error")
	}
	// The interval must hold the true standard deviation at its rate.
	random, held := rand.New(rand.NewPCG(4, 4)), 0
	const runs = 4000
	for range runs {
		repeats := make([][]float64, 3)
		for i := range repeats {
			for range 3 {
				repeats[i] = append(repeats[i], 10*float64(i)+random.NormFloat64())
			}
		}
		if r, _ := repeatability(repeats); r.SDIn.Lo <= 1 && 1 <= r.SDIn.Hi {
			held++
		}
	}
	if rate := float64(held) / runs; !near(rate, Confidence, 0.0104) { // three standard errors
		t.Errorf("interval of the standard deviation held the truth in %.4f, want %.2f", rate, Confidence)
	}
}
