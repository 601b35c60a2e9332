package inspect

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// table reads published values as numbers; what is no number is NaN.
func table(t *testing.T, name string) (rows [][]float64) {
	t.Helper()
	f, err := os.Open("../testdata/check/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	cells, err := r.ReadAll()
	if err != nil || len(cells) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(cells), err)
	}
	for _, row := range cells[1:] {
		var v []float64
		for _, c := range row {
			x, err := strconv.ParseFloat(c, 64)
			if err != nil {
				x = math.NaN()
			}
			v = append(v, x)
		}
		rows = append(rows, v)
	}
	return rows
}

// Source: the table's first line; printed to 8 decimals.
func TestFlopFormula(t *testing.T) {
	for _, r := range table(t, "06_flop_index.csv") {
		if got := alman(r[0], r[1], r[2]); math.Abs(got-r[3]) > 1e-8 {
			t.Errorf("alman(%v, %v, %v) = %.8f, want %v", r[0], r[1], r[2], got, r[3])
		}
	}
	if got := alman(40, 50, 60); got != 0 {
		t.Errorf("a colour that gets lighter: %v, want 0", got)
	}
}

// A plain coat has the same colour at all angles, only more or less light: no
// shift must be left of it, whatever the light, while its lightness falls. A
// clear coat on it mirrors a little of the room, more at the rim; that is no
// more than the doubt. A colour-shift coat has a shift beyond doubt.
func TestPlainCoatHasNoShift(t *testing.T) {
	t.Parallel()
	matt := marigold
	matt.GlossDeg = 90
	lights := map[string]scene.Light{"tent": scene.Tent(5600)}
	if !testing.Short() {
		lights["softbox"], lights["lamp"], lights["window"] = scene.Softbox(60, 5000), scene.OneLamp(200, 45, 4200), scene.Window(130)
	}
	for name, light := range lights {
		for _, c := range []struct {
			what        string
			coat        scene.Coat
			least, most float64
		}{{"matt", matt, 0, 0.5}, {"glossy", marigold, 0, 6}, {"colour-shift", heather, 10, 60}} {
			spec := onCard(scene.Ball, c.coat)
			spec.Light = light
			ph, _, _ := measured(t, spec)
			s := ph.Travel.Shift
			if s == nil || s.DeltaE00 < c.least || s.DeltaE00 > c.most || (s.Interval[0] == 0) != (c.least == 0) {
				t.Errorf("%s coat, %s: shift %+v, want %v to %v, from 0: %v", c.what, name, s, c.least, c.most, c.least == 0)
			}
			if c.what == "matt" && ph.Travel.Interval[0] < 5 {
				t.Errorf("matt coat, %s: travel %v with shading, want more than 5", name, *ph.Travel.Interval)
			}
		}
	}
}

// Light scaled by any factor is shading: the curve at even lightness stays.
func TestEvenLightness(t *testing.T) {
	colour := calib.XYZ{X: 0.3, Y: 0.25, Z: 0.1}
	var c []TravelBin
	for k, gain := range []float64{1, 0.6, 1.7, 0.2} {
		lab := calib.XYZ{X: gain * colour.X, Y: gain * colour.Y, Z: gain * colour.Z}.Lab()
		c = append(c, TravelBin{ViewingDeg: float64(10*k + 5), L: lab.L, A: lab.A, B: lab.B, U: 1})
	}
	c = append(c, TravelBin{ViewingDeg: 45, L: 3, U: 1}) // black has no colour to compare
	even := evenLightness(c)
	if len(even) != 4 {
		t.Fatalf("%d bins, want 4", len(even))
	}
	for _, b := range even[1:] {
		if d := b.between(even[0]); d > 1e-9 {
			t.Errorf("at %v°: ΔE00 %g to the first, want 0", b.ViewingDeg, d)
		}
	}
	if even[3].U < 1.2 || even[2].U > 0.95 {
		t.Errorf("a dark bin made lighter gets doubt %.2f, a light one made darker %.2f; want more and less than 1", even[3].U, even[2].U)
	}
}

func TestHueArc(t *testing.T) {
	curve := func(u float64, hues ...float64) (c []TravelBin) {
		for k, h := range hues {
			sin, cos := math.Sincos(h * math.Pi / 180)
			c = append(c, TravelBin{ViewingDeg: float64(10*k + 5), L: 50, A: 30 * cos, B: 30 * sin, U: u, NoiseU: u})
		}
		return c
	}
	// across 0°, and more than half a turn step by step
	for _, c := range []struct {
		hues []float64
		want float64
	}{{[]float64{350, 5, 20}, 30}, {[]float64{10, 100, 190, 250}, 240}, {[]float64{40, 60, 30}, 30}} {
		got, u := hueArc(curve(0.01, c.hues...))
		if got == nil || math.Abs(*got-c.want) > 0.5 || *u > 0.2 {
			t.Errorf("arc of %v = %v ± %v, want %v", c.hues, deref(got), deref(u), c.want)
		}
	}
	if got, u := hueArc(curve(2, 50, 52, 49, 51)); got == nil || *got != 0 || *u < 3 {
		t.Errorf("an arc that is noise: %v ± %v, want 0 ± 3 or more", deref(got), deref(u))
	}
	if got, _ := hueArc(curve(11, 50, 80)); got != nil {
		t.Errorf("hues less sure than their colours' distance from grey: %v, want nil", *got)
	}
}

func deref(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

// The whole way round: flakes that are clear plates of a textbook film, on a
// head, photographed, measured. From the measured hue follows the place of the
// film's bright band, by the hues of films of all thicknesses seen straight on;
// by viewing angle it must move as 2 n d cosθ/(m + ½) does (E. Hecht, Optics; M.
// Born and E. Wolf, Principles of Optics). The tolerance is what 3° of viewing
// angle, half a bin of it and the spread of the flakes move the band.
func TestFilmColoursComeBack(t *testing.T) {
	t.Parallel()
	shift := func(outside, film, deg float64) float64 { // cosθ in the film
		sin := outside * math.Sin(deg*math.Pi/180) / film
		return math.Sqrt(1 - sin*sin)
	}
	for _, r := range table(t, "07_interference_peaks.csv") {
		if got := shift(r[0], r[1], r[6]); math.Abs(got-r[7]) > 1e-9 {
			t.Fatalf("shift of %v in %v at %v° = %.10f, want %v", r[1], r[0], r[6], got, r[7])
		}
	}
	const index, d = 2.5, 184.0
	peak := func(nm float64) float64 { return 2 * index * nm / 1.5 } // m = 1
	coat := scene.Coat{Flake: scene.Pearl(d), FlakeShare: 1, SpreadDeg: 3, GlossDeg: 90}
	ph, _, _ := measured(t, onCard(scene.Ball, coat))
	checked := 0
	for _, b := range ph.Travel.Curve {
		best, at := math.Inf(1), 0.0
		for nm := 0.8 * d; nm < 1.1*d; nm += 0.1 {
			c := scene.Pearl(nm).RGBAt(0)
			hue := calib.LinearRGB{R: c[0], G: c[1], B: c[2]}.Lab().HueDeg()
			if off := math.Abs(math.Remainder(hue-b.lab().HueDeg(), 360)); off < best {
				best, at = off, nm
			}
		}
		want := peak(d) * shift(1, index, b.ViewingDeg)
		t.Logf("%2.0f° L %.1f a %.1f b %.1f: band at %.1f nm, want %.1f", b.ViewingDeg, b.L, b.A, b.B, peak(at), want)
		if math.Abs(peak(at)-want) > 6 {
			t.Errorf("seen at %.0f°: bright band at %.1f nm, want %.1f", b.ViewingDeg, peak(at), want)
		}
		checked++
	}
	if checked < 7 {
		t.Errorf("only %d angles", checked)
	}
}

// Two photos of one piece, one of them darker as a whole: their colours are in
// doubt, their travel is not. Two that travel unlike put the travel in doubt.
func TestPooledTravel(t *testing.T) {
	photo := func(dark, slope float64) *Travel {
		p := &Travel{Light: "diffuse"}
		for deg := 5.0; deg < 80; deg += 10 {
			p.Curve = append(p.Curve, TravelBin{ViewingDeg: deg, L: 60 - dark - slope*deg, A: 20, B: 10, Px: 1000, U: 0.5})
		}
		p.summarise(p.Curve)
		return p
	}
	one := photo(0, 0.3)
	shifted := PoolTravel([]*Travel{one, photo(8, 0.3)})
	if u := shifted.Curve[0].U; u < 2 {
		t.Errorf("colours of unlike photos have u %.2f, want more than 2", u)
	}
	if *shifted.U > 1.5 || math.Abs(*shifted.DeltaE00Max-*one.DeltaE00Max) > 2 {
		t.Errorf("travel %.1f ± %.1f of photos that travel alike, want about %.1f ± 0.7", *shifted.DeltaE00Max, *shifted.U, *one.DeltaE00Max)
	}
	unlike := PoolTravel([]*Travel{one, photo(0, 0.6)})
	// half the difference of the two is the standard error of their mean
	want := math.Abs(*photo(0, 0.6).DeltaE00Max-*one.DeltaE00Max) / 2
	if *unlike.U < want || unlike.Interval[1]-*unlike.DeltaE00Max < 1.96*want {
		t.Errorf("travel %.1f ± %.1f (%.1f) of unlike photos, want u of %.1f or more", *unlike.DeltaE00Max, *unlike.U, *unlike.Interval, want)
	}
	if got := PoolTravel([]*Travel{one}); *got.DeltaE00Max != *one.DeltaE00Max || *got.U != *one.U {
		t.Errorf("one photo: %.2f ± %.2f, want its own %.2f ± %.2f", *got.DeltaE00Max, *got.U, *one.DeltaE00Max, *one.U)
	}
}
