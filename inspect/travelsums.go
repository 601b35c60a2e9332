package inspect

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"jigloupe/calib"
)

func (b TravelBin) lab() calib.Lab { return calib.Lab{L: b.L, A: b.A, B: b.B} }

func (b TravelBin) between(o TravelBin) float64 { return calib.DeltaE2000(b.lab(), o.lab()) }

// summarise draws from the curve what is said of it in one number each; c is
// the curve with the doubt that its bins do not share.
func (t *Travel) summarise(c []TravelBin) {
	*t = Travel{Light: t.Light, Curve: t.Curve}
	if len(c) < 2 {
		return
	}
	s, between := travelOf(c)
	t.DeltaE00Max, t.U, t.Interval, t.BetweenDeg = &s.most, &s.u, &s.interval, &between
	if even := evenLightness(c); len(even) > 1 {
		s, between := travelOf(even)
		t.Shift = &Shift{s.most, s.u, s.interval, between}
	}
	t.HueArcDeg, t.HueArcU = hueArc(c)
	t.addTone(c)
	chroma, light := [2]float64{math.Inf(1), 0}, [2]float64{math.Inf(1), 0}
	for _, b := range t.Curve {
		chroma[0], chroma[1] = min(chroma[0], b.lab().Chroma()), max(chroma[1], b.lab().Chroma())
		light[0], light[1] = min(light[0], b.L), max(light[1], b.L)
		if b.U <= trustedU && b.ViewingDeg < trustedDeg {
			if t.TrustedDeg == nil {
				t.TrustedDeg = &[2]float64{b.ViewingDeg - binDeg/2, 0}
			}
			t.TrustedDeg[1] = b.ViewingDeg + binDeg/2
		}
	}
	t.ChromaRange, t.LightnessSpan = &chroma, &light
	t.Flop = flop(c)
}

// scatter widens the doubt of pooled numbers by how those of the single curves
// scatter.
func (t *Travel) scatter(travels []*Travel) {
	var most, shift, arc []float64
	for _, one := range travels {
		if one.DeltaE00Max != nil {
			most = append(most, *one.DeltaE00Max)
		}
		if one.Shift != nil {
			shift = append(shift, one.Shift.DeltaE00)
		}
		if one.HueArcDeg != nil {
			arc = append(arc, *one.HueArcDeg)
		}
	}
	if t.DeltaE00Max != nil {
		widen(*t.DeltaE00Max, t.U, t.Interval, ofMean(most))
	}
	if t.Shift != nil {
		widen(t.Shift.DeltaE00, &t.Shift.U, &t.Shift.Interval, ofMean(shift))
	}
	if t.HueArcDeg != nil {
		widen(*t.HueArcDeg, t.HueArcU, new([2]float64), ofMean(arc))
	}
}

// ofMean is the standard error of the mean of values, 0 of fewer than two.
func ofMean(values []float64) float64 {
	if len(values) < 2 {
		return 0
	}
	return stat.StdErr(stat.StdDev(values, nil), float64(len(values)))
}

// widen adds an independent standard uncertainty e to the doubt of a value. An
// interval that begins at 0 goes on doing so.
func widen(value float64, u *float64, interval *[2]float64, e float64) {
	*u = math.Hypot(*u, e)
	interval[0] = max(0, value-math.Hypot(value-interval[0], 1.96*e))
	interval[1] = value + math.Hypot(interval[1]-value, 1.96*e)
}

// A bin is trusted up to the viewing angle to which angles are better than 5°
// on average (TestHeadAndViewingAngles), and while its k = 2 uncertainty stays
// below the difference between neighbouring colours of a chart: by eye.
const (
	trustedDeg = 60
	trustedU   = 3.0
)

// travelOf is the largest difference between two bins, and between which two
// it was seen.
func travelOf(c []TravelBin) (s spread, betweenDeg [2]float64) {
	most := -1.0
	noise, u := make([]float64, len(c)), make([]float64, len(c))
	for j, b := range c {
		noise[j], u[j] = b.NoiseU, b.U
		for _, a := range c[:j] {
			if d := a.between(b); d > most {
				most, betweenDeg = d, [2]float64{a.ViewingDeg, b.ViewingDeg}
			}
		}
	}
	return spreadOf(func(i, j int) float64 { return c[i].between(c[j]) }, noise, u), betweenDeg
}

// Apart is how far two colours at the same viewing angle lie apart, without
// what their doubt alone would add: ΔE00, its standard uncertainty and its 95 %
// interval, which begins at 0 where they may be the same colour. Both are taken to
// be one camera's, whose tone curve bends them alike.
func Apart(a, b TravelBin) (deltaE00, u float64, interval [2]float64) {
	both := []float64{a.withoutTone().U, b.withoutTone().U}
	s := spreadOf(func(i, j int) float64 { return a.between(b) }, both, both)
	return s.most, s.u, s.interval
}

// leastLightness is the L* below which CIELAB is no longer a cube root, and a
// photo hardly more than noise (CIE 15).
const leastLightness = 8

// evenLightness is the curve with more or less light on each bin, so that all
// have the mean lightness: shading, which makes the rim of any round thing
// darker, is gone, and what is left is a change of the colour itself.
func evenLightness(c []TravelBin) []TravelBin {
	var even []TravelBin
	mean := 0.0
	for _, b := range c {
		if b.L >= leastLightness {
			even, mean = append(even, b), mean+b.L
		}
	}
	mean /= float64(len(even))
	to := calib.Lab{L: mean}.XYZ().Y
	for k, b := range even {
		xyz := b.lab().XYZ()
		gain := to / xyz.Y
		lab := calib.XYZ{X: gain * xyz.X, Y: gain * xyz.Y, Z: gain * xyz.Z}.Lab()
		even[k].L, even[k].A, even[k].B = lab.L, lab.A, lab.B
		c := math.Cbrt(gain) // L*, a* and b* go with the cube root of light
		even[k].U, even[k].NoiseU = c*even[k].U, c*even[k].NoiseU
	}
	return even
}

// hueArc is how far the hue angle turns along the curve, in degrees, and its
// standard uncertainty; nil where fewer than two bins have a hue at all.
func hueArc(c []TravelBin) (arc, u *float64) {
	var hue, noise, doubt []float64
	for _, b := range c {
		lab := b.lab()
		if lab.Chroma() <= 3*b.U || lab.Chroma() <= 5 { // a grey has no hue
			continue
		}
		h := lab.HueDeg()
		if n := len(hue); n > 0 {
			h += 360 * math.Round((hue[n-1]-h)/360)
		}
		sin, cos := math.Sincos((h + 1) * math.Pi / 180)
		degree := calib.DeltaE2000(lab, calib.Lab{L: lab.L, A: lab.Chroma() * cos, B: lab.Chroma() * sin})
		hue, noise, doubt = append(hue, h), append(noise, b.NoiseU/degree), append(doubt, b.U/degree)
	}
	if len(hue) < 2 {
		return nil, nil
	}
	s := spreadOf(func(i, j int) float64 { return math.Abs(hue[i] - hue[j]) }, noise, doubt)
	return &s.most, &s.u
}

// flop is Alman's index of the fall of lightness with the viewing angles 15°,
// 45° and 75° in the place of the aspecular angles 15°, 45° and 110°, which a
// photo does not have: it ranks heads in the same light and is no flop index.
// Nil where one of the three angles was not seen.
func flop(c []TravelBin) *float64 {
	var l [3]float64
	for _, b := range c {
		for k, deg := range []float64{15, 45, 75} {
			if b.ViewingDeg == deg {
				l[k] = b.L
			}
		}
	}
	if l[0] == 0 || l[1] == 0 || l[2] == 0 {
		return nil
	}
	f := alman(l[0], l[1], l[2])
	return &f
}

// alman is 2.69 (L1 − L3)^1.11 / L2^0.86, 0 where the lightness does not fall
// (D. H. Alman, Directional color measurement of metallic flake finishes,
// Proc. ISCC Williamsburg Conf., 1987).
func alman(near, middle, far float64) float64 {
	return 2.69 * math.Pow(max(0, near-far), 1.11) / math.Pow(middle, 0.86)
}
