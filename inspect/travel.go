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

// travel is the coat's colour against the viewing angle after the camera's tone is
// undone. The kind of light is told from the photo as it is unless declared.
func (l *look) travel(leaveOut []bool, declared string) *Travel {
	if declared == "" {
		declared = l.light()
	}
	straight := *l
	if l.tone != nil {
		straight.Linear = l.card.Straightened(l.Linear, *l.tone, func(i int) bool { return l.shape.head.Pix[i] != 0 })
	}
	t := measureTravel(&straight, leaveOut, declared)
	l.places = straight.places
	return t
}

// measureTravel takes the coat's colour against the viewing angle. LeaveOut
// marks pixels that are not coat. Glare is left out too: what is much lighter
// than the rest of its bin and less colourful.
func measureTravel(l *look, leaveOut []bool, light string) *Travel {
	s := l.shape
	var left [bins][]calib.Lab // of a ring, what is not taken for the coat
	var parts [bins][ringParts][]calib.Lab
	for i, d := range s.depth.Pix {
		a := float64(l.angles.Pix[i])
		if d < 2 || a < 0 || a >= bins*binDeg {
			continue
		}
		k := int(a / binDeg)
		c := calib.LinearRGB{R: float64(l.Pix[3*i]), G: float64(l.Pix[3*i+1]), B: float64(l.Pix[3*i+2])}.Lab()
		to := &left[k]
		if !leaveOut[i] && l.Top[i] == 0 {
			to = &parts[k][ringPart(i%s.w-s.centre.X, i/s.w-s.centre.Y)]
		}
		*to = append(*to, c)
	}
	t := &Travel{Light: light, Curve: []TravelBin{}}
	sectors := &[bins][ringParts]sector{}
	for k := range parts {
		for j, part := range parts[k] {
			kept := withoutGlare(part)
			mean, spread := meanLab(kept)
			sectors[k][j] = sector{len(part), len(kept), mean, spread}
		}
		all := slices.Concat(parts[k][:]...)
		kept := withoutGlare(all)
		if len(kept) < leastBin {
			continue
		}
		mean, spread := meanLab(kept)
		pixels := spread / math.Sqrt(max(1, float64(len(kept))/clusterPx))
		whole, _ := meanLab(append(all, left[k]...))
		noise := math.Sqrt(pixels*pixels + sq(leftDoubt(mean, whole)) + sq(ringDoubt(mean, &sectors[k])))
		t.Curve = append(t.Curve, TravelBin{
			ViewingDeg: (float64(k) + 0.5) * binDeg,
			L:          mean.L, A: mean.A, B: mean.B,
			Px: len(kept) * l.Step * l.Step,
			U:  noise, NoiseU: noise,
		})
	}
	l.addSystematic(t.Curve)
	within := slices.Clone(t.Curve)
	if l.tone != nil {
		for k := range t.Curve {
			t.Curve[k].addTone()
			within[k].ToneU = t.Curve[k].ToneU
		}
	}
	t.summarise(within)
	l.places = l.placesOf(sectors)
	return t
}

// ringParts are the sectors that a ring of equal viewing angle is cut into.
const ringParts = 12

// sector is what the coat looks like in one of them.
type sector struct {
	px, kept int // pixels, and those that are no glare
	mean     calib.Lab
	spread   float64 // their standard deviation, as a distance in CIELAB
}

// ringPart is the sector in the direction dx, dy from the middle.
func ringPart(dx, dy int) int {
	turn := math.Atan2(float64(dy), float64(dx))/(2*math.Pi) + 0.5
	return min(int(turn*ringParts), ringParts-1)
}

// leftDoubt is how unsure a bin's mean is because part of its ring was taken
// for bare, glare or clipped: between the mean without that part and the mean
// with it any value is as likely.
func leftDoubt(mean, whole calib.Lab) float64 {
	return calib.DeltaE2000(mean, whole) / math.Sqrt(3)
}

// ringDoubt is how unsure a bin's mean is because its ring is lit unevenly, so
// that it matters which pixels count. Sectors drawn at random would make it
// their scatter over the root of their number; they are the ring itself, and
// half of that is what a piece drawn by an independent renderer and placed six
// times bears out: 43 of its 48 colours lie within twice their uncertainty.
func ringDoubt(mean calib.Lab, parts *[ringParts]sector) float64 {
	sum, n := 0.0, 0.0
	for _, part := range parts {
		if part.px >= clusterPx {
			sum, n = sum+sq(calib.DeltaE2000(part.mean, mean)), n+1
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum/n) / math.Sqrt(ringParts) / 2
}

// withoutGlare drops what is lighter than the bin's median by more than three
// robust standard deviations while less colourful than it.
func withoutGlare(all []calib.Lab) []calib.Lab {
	if len(all) == 0 {
		return nil
	}
	square := func(c calib.Lab) float64 { return c.A*c.A + c.B*c.B } // of its chroma
	light, chroma := make([]float64, len(all)), make([]float64, len(all))
	for i, c := range all {
		light[i], chroma[i] = c.L, square(c)
	}
	mid, usual := nth(light, len(light)/2), nth(chroma, len(chroma)/2)
	above := nth(light, len(light)*84/100) - mid
	kept := make([]calib.Lab, 0, len(all))
	for _, c := range all {
		if c.L < mid+3*above+2 || square(c) > usual {
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
		mean.L, mean.A, mean.B = mean.L+c.L, mean.A+c.A, mean.B+c.B
	}
	mean.L, mean.A, mean.B = mean.L/n, mean.A/n, mean.B/n
	for _, c := range all {
		spread += sq(c.L-mean.L) + sq(c.A-mean.A) + sq(c.B-mean.B)
	}
	return mean, math.Sqrt(spread / n)
}

// angleU is the standard uncertainty of a viewing angle on a body of
// revolution, in degrees; see TestHeadAndViewingAngles.
const angleU = 3.0

// lightDoubt is what a relative doubt of the light makes of a lightness.
func lightDoubt(lightness, residual float64) float64 {
	return 116.0 / 3 * math.Cbrt(calib.Lab{L: lightness}.XYZ().Y) * residual
}

// addSystematic adds to each bin's uncertainty what more pixels cannot lower:
// the light fitted on the card and the viewing angle.
func (l *look) addSystematic(curve []TravelBin) {
	for k := range curve {
		b := &curve[k]
		light := lightDoubt(b.L, l.card.Residual)
		slope := 0.0
		if k > 0 {
			slope = curve[k-1].between(*b) / (b.ViewingDeg - curve[k-1].ViewingDeg)
		}
		if k < len(curve)-1 {
			slope = max(slope, b.between(curve[k+1])/(curve[k+1].ViewingDeg-b.ViewingDeg))
		}
		b.U = math.Sqrt(b.U*b.U + light*light + sq(slope)*(sq(angleU)+sq(l.contour.unevenDeg)+sq(l.contour.askewDeg())))
	}
}
