package calib

import "math"

// Chromaticity returns x, y of the colour under the white of sRGB, D65: equal
// channels give 0.3127, 0.3290. Of a card's light it is the light's chromaticity
// as the camera rendered it, after the camera's own white balance. Black has
// none: the result is not a number.
func (c LinearRGB) Chromaticity() Chromaticity {
	v := srgbXYZ.apply([3]float64{c.R, c.G, c.B})
	sum := v[0] + v[1] + v[2]
	return Chromaticity{v[0] / sum, v[1] / sum}
}

var srgbXYZ = srgbSpace.toXYZ()

// maxDuv is the distance from the Planckian locus beyond which CIE 15 says that
// a colour temperature should not be given.
const maxDuv = 0.05

// CCT returns the correlated colour temperature in kelvin and the distance from
// the Planckian locus in CIE 1960 u, v, positive on its green side. ok is false,
// and the light has no colour temperature, below 1667 K, above 100 000 K and
// farther than 0.05 from the locus.
//
// Method and table: A. R. Robertson, J. Opt. Soc. Am. 58(11), 1528–1535 (1968),
// doi:10.1364/JOSA.58.001528; within 0.2 % of the exact temperature from 1667 K
// to 10 000 K (TestCCT).
func (c Chromaticity) CCT() (kelvin, duv float64, ok bool) {
	den := -2*c.X + 12*c.Y + 3
	u, v := 4*c.X/den, 6*c.Y/den
	var before float64 // distance to the isotemperature line before
	for i, line := range isotemperature {
		// Both distances are signed: the point lies between two lines where they differ in sign.
		d := ((v - line.v) - line.slope*(u-line.u)) / math.Hypot(1, line.slope)
		if i > 1 && before > 0 && d <= 0 {
			f := before / (before - d)
			last := isotemperature[i-1]
			mix := func(a, b float64) float64 { return a + f*(b-a) }
			kelvin = 1e6 / mix(last.mired, line.mired)
			du, dv := u-mix(last.u, line.u), v-mix(last.v, line.v)
			duv = math.Copysign(math.Hypot(du, dv), dv)
			return kelvin, duv, math.Abs(duv) <= maxDuv
		}
		before = d
	}
	return 0, 0, false
}

// isotemperature is Robertson's table 1: reciprocal temperature in 1/MK, the
// point of the Planckian locus in CIE 1960 u, v, and the slope of the line of
// equal temperature through it. At 325 the paper's u is misprinted as 0.24702;
// the other columns and both neighbours give 0.24792.
var isotemperature = [...]struct{ mired, u, v, slope float64 }{
	{0, 0.18006, 0.26352, -0.24341},
	{10, 0.18066, 0.26589, -0.25479},
	{20, 0.18133, 0.26846, -0.26876},
	{30, 0.18208, 0.27119, -0.28539},
	{40, 0.18293, 0.27407, -0.30470},
	{50, 0.18388, 0.27709, -0.32675},
	{60, 0.18494, 0.28021, -0.35156},
	{70, 0.18611, 0.28342, -0.37915},
	{80, 0.18740, 0.28668, -0.40955},
	{90, 0.18880, 0.28997, -0.44278},
	{100, 0.19032, 0.29326, -0.47888},
	{125, 0.19462, 0.30141, -0.58204},
	{150, 0.19962, 0.30921, -0.70471},
	{175, 0.20525, 0.31647, -0.84901},
	{200, 0.21142, 0.32312, -1.0182},
	{225, 0.21807, 0.32909, -1.2168},
	{250, 0.22511, 0.33439, -1.4512},
	{275, 0.23247, 0.33904, -1.7298},
	{300, 0.24010, 0.34308, -2.0637},
	{325, 0.24792, 0.34655, -2.4681},
	{350, 0.25591, 0.34951, -2.9641},
	{375, 0.26400, 0.35200, -3.5814},
	{400, 0.27218, 0.35407, -4.3633},
	{425, 0.28039, 0.35577, -5.3762},
	{450, 0.28863, 0.35714, -6.7262},
	{475, 0.29685, 0.35823, -8.5955},
	{500, 0.30505, 0.35907, -11.324},
	{525, 0.31320, 0.35968, -15.628},
	{550, 0.32129, 0.36011, -23.325},
	{575, 0.32931, 0.36038, -40.770},
	{600, 0.33724, 0.36051, -116.45},
}
