package calib

import "math"

// DeltaE2000 returns the CIEDE2000 colour difference ΔE00 between two colours,
// with kL = kC = kH = 1. It is symmetric, never negative, and 0 for equal
// colours. Its reference conditions cover differences below 5: above that, use
// it to rank, not to say how much worse one is than another.
//
// The result jumps where two hues are exactly 180° apart. There it is the value
// that the paper prints for such pairs (10 and 14), whatever the rounding of
// the hues.
//
// Symbols, equation numbers and test values follow G. Sharma, W. Wu and
// E. N. Dalal, Color Res. Appl. 30(1), 21–30 (2005), doi:10.1002/col.20070.
func DeltaE2000(ref, sample Lab) float64 {
	meanC7 := pow7((ref.Chroma() + sample.Chroma()) / 2) // eqs 2, 3
	g := 0.5 * (1 - math.Sqrt(meanC7/(meanC7+pow7(25)))) // eq. 4
	a1, a2 := (1+g)*ref.A, (1+g)*sample.A                // eq. 5
	c1, c2 := math.Hypot(a1, ref.B), math.Hypot(a2, sample.B)
	h1, h2 := Lab{A: a1, B: ref.B}.HueDeg(), Lab{A: a2, B: sample.B}.HueDeg() // eq. 7

	dL := sample.L - ref.L                     // eq. 8
	dC := c2 - c1                              // eq. 9
	dh, meanH := hueDifference(c1, h1, c2, h2) // eqs 10, 14
	dH := 2 * math.Sqrt(c1*c2) * sin(dh/2)     // eq. 11

	meanL := (ref.L + sample.L) / 2                                                              // eq. 12
	meanC := (c1 + c2) / 2                                                                       // eq. 13
	t := 1 - 0.17*cos(meanH-30) + 0.24*cos(2*meanH) + 0.32*cos(3*meanH+6) - 0.20*cos(4*meanH-63) // eq. 15
	dTheta := 30 * math.Exp(-sq((meanH-275)/25))                                                 // eq. 16
	rC := 2 * math.Sqrt(pow7(meanC)/(pow7(meanC)+pow7(25)))                                      // eq. 17
	l50 := sq(meanL - 50)
	sL := 1 + 0.015*l50/math.Sqrt(20+l50) // eq. 18
	sC := 1 + 0.045*meanC                 // eq. 19
	sH := 1 + 0.015*meanC*t               // eq. 20
	rT := -sin(2*dTheta) * rC             // eq. 21
	l, c, h := dL/sL, dC/sC, dH/sH
	return math.Sqrt(max(0, l*l+c*c+h*h+rT*c*h)) // eq. 22
}

// hueDifference returns the signed difference of two hue angles and their mean,
// both in degrees: eqs 10 and 14 of DeltaE2000. Of two hues 180° apart within
// 1e-9 the mean is the plain one.
func hueDifference(c1, h1, c2, h2 float64) (dh, meanH float64) {
	if c1*c2 == 0 {
		return 0, h1 + h2
	}
	dh, meanH = h2-h1, (h1+h2)/2
	if math.Abs(dh) <= 180+1e-9 {
		return dh, meanH
	}
	if dh > 0 {
		dh -= 360
	} else {
		dh += 360
	}
	if h1+h2 < 360 {
		return dh, meanH + 180
	}
	return dh, meanH - 180
}

func sq(x float64) float64    { return x * x }
func pow7(x float64) float64  { return x * x * x * x * x * x * x }
func sin(deg float64) float64 { return math.Sin(deg * math.Pi / 180) }
func cos(deg float64) float64 { return math.Cos(deg * math.Pi / 180) }
