package study

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// film is the reflectance of a coat of scattering power sx over a ground:
// Kubelka's closed form, checked against 05_kubelka_munk.csv below.
func film(kOverS, sx, ground float64) float64 {
	if sx == 0 {
		return ground
	}
	if kOverS == 0 {
		return (ground + (1-ground)*sx) / (1 + (1-ground)*sx)
	}
	a := 1 + kOverS
	b := math.Sqrt(a*a - 1)
	coth := 1 / math.Tanh(b*sx)
	return (1 - ground*(a-b*coth)) / (a - ground + b*coth)
}

// Source: Kubelka & Munk 1931, Kubelka 1948; 245 films computed three ways.
func TestFilmOfThisTest(t *testing.T) {
	rows := table(t, "05_kubelka_munk.csv")
	if len(rows) != 245 {
		t.Fatalf("%d films, want 245", len(rows))
	}
	for _, row := range rows {
		k, s := number(t, row["K"]), number(t, row["S"])
		if s == 0 {
			continue
		}
		if got, want := film(k/s, s*number(t, row["X"]), number(t, row["Rg"])), number(t, row["R"]); !near(got, want, 1e-9) {
			t.Errorf("film %v = %.10f, want %.10f", row, got, want)
		}
	}
}

// grey is a piece whose coat reflects y at every angle.
func grey(name, base string, y float64) inspect.Piece {
	c := calib.LinearRGB{R: y, G: y, B: y}.Lab()
	p := inspect.Piece{Piece: name, Sheet: map[string]string{"powder": "test", "base": base}, Verdict: inspect.Pass}
	p.Travel = &inspect.Travel{Light: "diffuse"}
	for deg := 5.0; deg < 80; deg += 10 {
		p.Travel.Curve = append(p.Travel.Curve, inspect.TravelBin{ViewingDeg: deg, L: c.L, A: c.A, B: c.B, Px: 1000})
	}
	return p
}

// Source: 05_contrast_ratio.csv, contrast ratios of films over ideal black and
// white 0.80 (ISO 6504-3, ASTM D2805). Films rendered as pieces must come back
// with the printed ratio, and the thickness that hides from filmTimes.
func TestPublishedContrastRatios(t *testing.T) {
	checked := 0
	for _, row := range table(t, "05_contrast_ratio.csv") {
		ground, white := number(t, row["Rblack"]), number(t, row["Rwhite"])
		for _, sx := range []float64{1, 2, 5} {
			black := film(number(t, row["K_over_S"]), sx, ground)
			over := film(number(t, row["K_over_S"]), sx, white)
			studies, err := Bases([]inspect.Piece{grey("A1", "black", black), grey("A2", "white", over)}, Noticeable)
			if err != nil {
				t.Fatal(err)
			}
			s := studies[0]
			want := number(t, row[fmt.Sprintf("CR_SX_%.0f", sx)])
			if !near(s.Whole.Ratio, want, 1e-6) || !near(s.ByAngle[3].Ratio, want, 1e-6) {
				t.Errorf("K/S %s, SX %v: contrast ratio %.8f, want %.8f", row["K_over_S"], sx, s.Whole.Ratio, want)
			}
			if ground != 0 {
				continue // filmTimes takes black as ideal
			}
			wantTimes := number(t, row["SX98"]) / sx
			switch {
			case wantTimes <= 1:
				if s.FilmTimes != nil {
					t.Errorf("K/S %s, SX %v hides already, but is said to need %.3f times the film", row["K_over_S"], sx, *s.FilmTimes)
				}
			case s.FilmTimes == nil || !near(*s.FilmTimes, wantTimes, 1e-5*wantTimes):
				t.Errorf("K/S %s, SX %v: film times %v, want %.6f", row["K_over_S"], sx, s.FilmTimes, wantTimes)
			}
			checked++
		}
	}
	if checked != 33 {
		t.Errorf("checked %d films, want 33", checked)
	}
}

// Where no light comes back there is no ratio, not a ratio of NaN.
func TestNoLightNoContrastRatio(t *testing.T) {
	studies, err := Bases([]inspect.Piece{grey("A1", "black", 0), grey("A2", "white", 0)}, Noticeable)
	if err != nil {
		t.Fatal(err)
	}
	if s := studies[0]; s.Whole != nil || len(s.ByAngle) != 0 || s.FilmTimes != nil {
		t.Errorf("contrast ratio %+v %+v, film times %v, want none", s.Whole, s.ByAngle, s.FilmTimes)
	}
	if _, err := json.Marshal(studies); err != nil {
		t.Error(err)
	}
}

// The interval of the contrast ratio must hold the true one at its rate from
// three pieces a group, each 3 % off in light and film.
func TestContrastRatioCovers(t *testing.T) {
	random := rand.New(rand.NewPCG(98, 98))
	const runs, truth = 4000, 0.8
	held := 0
	for range runs {
		black, white := make([]float64, 3), make([]float64, 3)
		for i := range black {
			black[i] = 0.24 * (1 + 0.03*random.NormFloat64())
			white[i] = 0.30 * (1 + 0.03*random.NormFloat64())
		}
		if h := contrastRatio(black, white); h.In.Lo <= truth && truth <= h.In.Hi {
			held++
		}
	}
	if rate := float64(held) / runs; rate < Confidence-0.0104 || rate > 0.985 {
		t.Errorf("held the true ratio in %.4f, want %.2f", rate, Confidence)
	}
}

// photographed are pieces of the practice batch p3_base with the true curves of
// its photos: a pale powder over none, white and black base, rendered by a
// program that is no part of this one.
func photographed(t *testing.T) []inspect.Piece {
	t.Helper()
	var truth struct {
		Pieces []struct {
			Piece string              `json:"piece"`
			Base  string              `json:"base"`
			Curve []inspect.TravelBin `json:"curve"`
		} `json:"pieces"`
	}
	data, err := os.ReadFile("../../testdata/study/pale_over_bases.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &truth); err != nil {
		t.Fatal(err)
	}
	var pieces []inspect.Piece
	for _, p := range truth.Pieces {
		none := 0.0
		pieces = append(pieces, inspect.Piece{Piece: p.Piece, Sheet: map[string]string{"powder": "pale chartreuse", "base": p.Base},
			Verdict: inspect.Pass, Travel: &inspect.Travel{Light: "diffuse", Curve: p.Curve}, Coverage: &inspect.Coverage{BareAreaPct: &none}})
	}
	return pieces
}

// Source: the renderer's study.json: contrast ratio 0.8348; ΔE00 4.12, 0.51 and
// 4.61 between the bases. Its curves scatter only by film and view, so noise of
// 0.6 in L*, about what a photo's light leaves, is added.
func TestPalePowderOverBases(t *testing.T) {
	for _, noise := range []float64{0, 0.6} {
		pieces := photographed(t)
		random := rand.New(rand.NewPCG(12, 12))
		for _, p := range pieces {
			shift := noise * random.NormFloat64()
			for k := range p.Travel.Curve {
				p.Travel.Curve[k].L += shift
			}
		}
		studies, err := Bases(pieces, Noticeable)
		if err != nil {
			t.Fatal(err)
		}
		s := studies[0]
		if !near(s.Whole.Ratio, 0.8348, 0.03) {
			t.Errorf("noise %v: contrast ratio %.4f, want 0.8348 within 0.03", noise, s.Whole.Ratio)
		}
		for _, want := range []struct {
			a, b string
			de   float64
		}{{"none", "white", 4.12}, {"none", "black", 0.51}, {"white", "black", 4.61}} {
			if got := s.pair(want.a, want.b).Whole.DeltaE00; !near(got, want.de, 1.0) {
				t.Errorf("noise %v: %s and %s differ by ΔE00 %.2f, want %.2f within 1", noise, want.a, want.b, got, want.de)
			}
		}
		if s.Advice != WhiteBase || !s.Shown {
			t.Errorf("noise %v: advice %q, shown %v, want a white base, shown: %q", noise, s.Advice, s.Shown, s.Why)
		}
	}
}

// overBases paints n pieces over each base with the curves given.
func overBases(random *rand.Rand, n int, none, white, black []calib.Lab) []inspect.Piece {
	p := painter{random: random, common: [3]float64{0.3, 0.1, 0.1}, own: [3]float64{0.1, 0.1, 0.1}}
	var pieces []inspect.Piece
	for b, curve := range [][]calib.Lab{none, white, black} {
		base := []string{"none", "white", "black"}[b]
		for i, lab := range p.group(curve, n) {
			piece := inspect.Piece{Piece: fmt.Sprintf("%s%d", base, i), Sheet: map[string]string{"powder": "shift", "base": base},
				Verdict: inspect.Pass, Travel: &inspect.Travel{Light: "diffuse"}}
			for k, c := range lab {
				piece.Travel.Curve = append(piece.Travel.Curve, inspect.TravelBin{ViewingDeg: 5 + 10*float64(k), L: c.L, A: c.A, B: c.B, Px: 1000})
			}
			pieces = append(pieces, piece)
		}
	}
	return pieces
}

func faded(curve []calib.Lab, chroma, lighter float64) []calib.Lab {
	out := make([]calib.Lab, len(curve))
	for k, c := range curve {
		out[k] = calib.Lab{L: c.L + lighter, A: chroma * c.A, B: chroma * c.B}
	}
	return out
}

func TestAdvice(t *testing.T) {
	random := rand.New(rand.NewPCG(13, 13))
	for _, c := range []struct {
		name               string
		n                  int
		none, white, black []calib.Lab
		want               Advice
		shown              bool
	}{
		{"hides", 8, shift8, shift8, shift8, OnMetal, true},
		{"hides, few pieces", 2, shift8, shift8, shift8, OnMetal, false},
		{"white washes it out, metal too", 4, faded(shift8, 0.7, 3), faded(shift8, 0.5, 6), shift8, BlackBase, true},
		{"white washes it out, metal does not", 8, shift8, faded(shift8, 0.5, 6), shift8, OnMetal, true},
		{"metal darkens it", 4, moved(shift8, -4, 0, 0), shift8, moved(shift8, -5, 0, 0), WhiteBase, true},
		{"metal is as good as white", 8, shift8, shift8, moved(shift8, -5, 0, 0), OnMetal, true},
	} {
		studies, err := Bases(overBases(random, c.n, c.none, c.white, c.black), Noticeable)
		if err != nil {
			t.Fatal(err)
		}
		if s := studies[0]; s.Advice != c.want || s.Shown != c.shown {
			t.Errorf("%s: %q, shown %v, want %q, %v: %q", c.name, s.Advice, s.Shown, c.want, c.shown, s.Why)
		}
	}
	// One black piece that travels far must not decide: the advice stays white.
	odd := overBases(random, 3, moved(shift8, -5, 0, 0), shift8, moved(shift8, -5, 0, 0))
	for i := range odd {
		if odd[i].Piece == "black0" {
			odd[i].Travel.Curve[0].A, odd[i].Travel.Curve[0].B = -60, 60
		}
	}
	if studies, _ := Bases(odd, Noticeable); studies[0].Advice != WhiteBase {
		t.Errorf("one odd black piece: %q, want a white base: %q", studies[0].Advice, studies[0].Why)
	}
	only := overBases(random, 3, shift8, shift8, shift8)
	studies, err := Bases(append(Only(only, "base", "none"), Only(only, "base", "white")...), Noticeable)
	if err != nil {
		t.Fatal(err)
	}
	if s := studies[0]; s.Advice != PaintFirst || len(s.Why) == 0 {
		t.Errorf("no black group: %q %q, want to paint some first", s.Advice, s.Why)
	}
	if _, err := Bases(only, 0); err == nil {
		t.Error("noticeable 0: want an error")
	}
	if _, err := Bases(Only(only, "base", "none"), Noticeable); err == nil {
		t.Error("one base only: want an error")
	}
}
