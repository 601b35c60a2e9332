package inspect

import (
	"math"
	"slices"

	"jigloupe/calib"
)

const (
	binDeg    = 10.0 // width of a bin of viewing angle, degrees
	bins      = 8    // up to 80°; beyond, the rim's own blur is all there is
	leastBin  = 150  // patch px that a bin needs
	clusterPx = 25   // patch px that vary together: sparkle and blur are not independent from px to px
)

// measureTravel takes the coat's colour against the viewing angle. LeaveOut
// marks pixels that are not coat. Glare is left out too: what is much lighter
// than the rest of its bin and less colourful.
func measureTravel(l *look, leaveOut []bool, declared string) *Travel {
	s := l.shape
	labs := make([][]calib.Lab, bins)
	for i, d := range s.depth.Pix {
		a := float64(l.angles.Pix[i])
		if d < 2 || a < 0 || a >= bins*binDeg || leaveOut[i] || l.Top[i] > 0 {
			continue
		}
		k := int(a / binDeg)
		c := calib.LinearRGB{R: float64(l.Pix[3*i]), G: float64(l.Pix[3*i+1]), B: float64(l.Pix[3*i+2])}
		labs[k] = append(labs[k], c.Lab())
	}
	t := &Travel{Light: declared, Curve: []TravelBin{}}
	if declared == "" {
		t.Light = l.light()
	}
	for k, all := range labs {
		kept := withoutGlare(all)
		if len(kept) < leastBin {
			continue
		}
		mean, spread := meanLab(kept)
		t.Curve = append(t.Curve, TravelBin{
			ViewingDeg: (float64(k) + 0.5) * binDeg,
			L:          mean.L, A: mean.A, B: mean.B,
			Px: len(kept) * l.Step * l.Step,
			U:  spread / math.Sqrt(max(1, float64(len(kept))/clusterPx)),
		})
	}
	l.addSystematic(t.Curve)
	t.summarise()
	return t
}

// withoutGlare drops what is lighter than the bin's median by more than three
// robust standard deviations while less colourful than it.
func withoutGlare(all []calib.Lab) []calib.Lab {
	if len(all) == 0 {
		return nil
	}
	light, chroma := make([]float64, len(all)), make([]float64, len(all))
	for i, c := range all {
		light[i], chroma[i] = c.L, c.Chroma()
	}
	slices.Sort(light)
	slices.Sort(chroma)
	mid, usual := light[len(light)/2], chroma[len(chroma)/2]
	above := (light[len(light)*84/100] - mid)
	var kept []calib.Lab
	for _, c := range all {
		if c.L < mid+3*above+2 || c.Chroma() > usual {
			kept = append(kept, c)
		}
	}
	return kept
}

// meanLab is the mean and the standard deviation of one colour, as a distance
// in CIELAB.
func meanLab(all []calib.Lab) (mean calib.Lab, spread float64) {
	n := float64(len(all))
	for _, c := range all {
		mean.L, mean.A, mean.B = mean.L+c.L/n, mean.A+c.A/n, mean.B+c.B/n
	}
	for _, c := range all {
		d := calib.DeltaE76(mean, c)
		spread += d * d / n
	}
	return mean, math.Sqrt(spread)
}

// angleU is the standard uncertainty of a viewing angle on a body of
// revolution, in degrees; see TestHeadAndViewingAngles.
const angleU = 3.0

// addSystematic adds to each bin's uncertainty what more pixels cannot lower:
// the light fitted on the card and the viewing angle.
func (l *look) addSystematic(curve []TravelBin) {
	for k := range curve {
		b := &curve[k]
		y := calib.Lab{L: b.L}.XYZ().Y
		light := 116.0 / 3 * math.Cbrt(y) * l.card.Residual
		slope := 0.0
		if k > 0 {
			slope = curve[k-1].between(*b) / (b.ViewingDeg - curve[k-1].ViewingDeg)
		}
		if k < len(curve)-1 {
			slope = max(slope, b.between(curve[k+1])/(curve[k+1].ViewingDeg-b.ViewingDeg))
		}
		b.U = math.Sqrt(b.U*b.U + light*light + slope*slope*angleU*angleU)
	}
}
