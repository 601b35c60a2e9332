package scene

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// checkTable reads a table of published values; lines from # on say its source.
func checkTable(t *testing.T, name string) (rows [][]string) {
	t.Helper()
	f, err := os.Open("../../testdata/check/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err = r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Airy summation for one film: Born & Wolf, Principles of Optics, ch. 7. The
// table is printed to 12 decimals.
func TestReflectanceOfOneFilm(t *testing.T) {
	rows := checkTable(t, "07_thin_film_reflectance.csv")
	for _, r := range rows {
		var v [9]float64
		for i := range v {
			v[i] = number(t, r[i+1])
		}
		s := Stack{Outside: v[0], Films: []Layer{{v[1], 0, v[4]}}, Substrate: Layer{N: v[2], K: v[3]}}
		rs, rp := s.Reflectance(v[5], v[6])
		if math.Abs(rs-v[7]) > 1e-9 || math.Abs(rp-v[8]) > 1e-9 {
			t.Errorf("%s at %v nm, %v°: reflectance %.12f, %.12f, want %.12f, %.12f", r[0], v[5], v[6], rs, rp, v[7], v[8])
		}
	}
	if len(rows) < 100 {
		t.Errorf("only %d rows in the table", len(rows))
	}
}

// The brightest wavelength of a clear film is 2 n d cosθ/m, or over m + ½ where
// one face turns the phase (Hecht, Optics). We look for it within 15 % of the
// published place; between the peaks a two-beam film has a minimum.
func TestFilmPeaks(t *testing.T) {
	for _, r := range checkTable(t, "07_interference_peaks.csv") {
		n0, n1, n2, d := number(t, r[0]), number(t, r[1]), number(t, r[2]), number(t, r[3])
		theta, want := number(t, r[6]), number(t, r[8])
		s := Stack{Outside: n0, Films: []Layer{{n1, 0, d}}, Substrate: Layer{N: n2}}
		best, at := 0.0, 0.0
		for nm := 0.85 * want; nm < 1.15*want; nm += want / 20000 {
			if rs, _ := s.Reflectance(nm, theta); rs > best {
				best, at = rs, nm
			}
		}
		if math.Abs(at-want) > 2e-4*want {
			t.Errorf("n %v|%v|%v, %v nm, order %s at %v°: peak at %.2f nm, want %.2f", n0, n1, n2, d, r[4], theta, at, want)
		}
	}
}

func TestPerfectMirrorIsWhite(t *testing.T) {
	got := Stack{Outside: 1, Substrate: Layer{N: 1, K: 1e6}}.RGBAt(30)
	for _, v := range got {
		// the sRGB matrix is printed to 4 decimals
		if math.Abs(v-1) > 1e-3 {
			t.Errorf("mirror %v, want 1 in each channel", got)
		}
	}
}

// The hue of a colour-shift flake moves towards short waves when it is tilted.
func TestColourShiftTravelsBlueward(t *testing.T) {
	peak := func(deg float64) (at float64) {
		best := 0.0
		for nm := 420.0; nm < 700; nm++ {
			rs, rp := ColourShift(400).Reflectance(nm, deg)
			if rs+rp > best {
				best, at = rs+rp, nm
			}
		}
		return at
	}
	// 2·1.38·400/2 = 552 nm less the metals' phase; in the binder at 40°
	// cosθ in the spacer is 0.715
	p0, p40 := peak(0), peak(40)
	if ratio := p40 / p0; math.Abs(ratio-0.715) > 0.05 {
		t.Errorf("peak moves from %v to %v nm, ratio %.3f, want about 0.715", p0, p40, ratio)
	}
}
