package inspect

import (
	"math"

	"jigloupe/calib"
)

// addTone adds to a bin's uncertainty that its camera's tone curve is not known.
func (b *TravelBin) addTone() {
	for _, c := range calib.OtherTones(b.lab()) {
		b.ToneU = math.Hypot(b.ToneU, calib.DeltaE2000(b.lab(), c))
	}
	b.U = math.Hypot(b.U, b.ToneU)
}

// withoutTone is the bin as unsure as it is among photos of one camera.
func (b TravelBin) withoutTone() TravelBin {
	b.U, b.ToneU = math.Sqrt(max(0, b.U*b.U-b.ToneU*b.ToneU)), 0
	return b
}

// addTone adds to the doubt of the sums over a curve c that an unknown tone curve
// stretches all of it: what the same coat would have shown through other cameras.
// A curve without travel has none under any.
func (t *Travel) addTone(c []TravelBin) {
	for k := range 2 {
		other := make([]TravelBin, len(c))
		for i, b := range c {
			if b.ToneU == 0 {
				return
			}
			lab := calib.OtherTones(b.lab())[k]
			b.L, b.A, b.B = lab.L, lab.A, lab.B
			other[i] = b
		}
		if t.DeltaE00Max != nil {
			widen(*t.DeltaE00Max, t.U, t.Interval, largest(other)-largest(c))
		}
		if t.Shift != nil {
			s := t.Shift
			widen(s.DeltaE00, &s.U, &s.Interval, largest(evenLightness(other))-largest(evenLightness(c)))
		}
		if arc, _ := hueArc(other); arc != nil && t.HueArcDeg != nil {
			widen(*t.HueArcDeg, t.HueArcU, new([2]float64), *arc-*t.HueArcDeg)
		}
	}
}

// largest is the largest difference between two bins of a curve, ΔE00.
func largest(c []TravelBin) (most float64) {
	for j, b := range c {
		for _, a := range c[:j] {
			most = max(most, a.between(b))
		}
	}
	return most
}
