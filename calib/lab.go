package calib

import "math"

// LinearRGB is light in the primaries of sRGB (IEC 61966-2-1). Against the card
// it is a reflectance factor: 1 is a perfect white diffuser. Colours outside
// sRGB have channels below 0 or above 1.
type LinearRGB struct{ R, G, B float64 }

// XYZ are tristimulus values relative to a perfect white diffuser (Y = 1)
// seen under D50, 2° observer; see Lab.
type XYZ struct{ X, Y, Z float64 }

// Lab is a colour in CIELAB (CIE 15, ISO/CIE 11664-4), 2° observer. The white
// point is D50 with x = 0.3457, y = 0.3585, the only one in this program;
// colours under D65 are brought to it by linear Bradford adaptation. The D50 of
// ICC profiles differs from it in the fourth digit, at most 0.02 in L*, a*, b*.
type Lab struct{ L, A, B float64 }

var (
	white     = d50.xyz()
	rgbToXYZ  = adapt(d65.xyz(), white).mul(srgbSpace.toXYZ())
	xyzToRGB  = rgbToXYZ.inverse()
	rgbToUnit = matrix{{1 / white[0]}, {0, 1 / white[1]}, {0, 0, 1 / white[2]}}.mul(rgbToXYZ) // to XYZ over its white
)

// Constants of CIE 15 as exact fractions.
const (
	labEpsilon = 216.0 / 24389
	labKappa   = 24389.0 / 27
)

// XYZ returns the tristimulus values under D50.
func (c LinearRGB) XYZ() XYZ {
	v := rgbToXYZ.apply([3]float64{c.R, c.G, c.B})
	return XYZ{v[0], v[1], v[2]}
}

// LinearRGB returns the colour in the primaries of sRGB.
func (c XYZ) LinearRGB() LinearRGB {
	v := xyzToRGB.apply([3]float64{c.X, c.Y, c.Z})
	return LinearRGB{v[0], v[1], v[2]}
}

// Lab returns the colour in CIELAB.
func (c XYZ) Lab() Lab { return unitLab(c.X/white[0], c.Y/white[1], c.Z/white[2]) }

// Lab returns the colour in CIELAB. It is the quick way for many pixels.
func (c LinearRGB) Lab() Lab {
	m := &rgbToUnit
	return unitLab(
		m[0][0]*c.R+m[0][1]*c.G+m[0][2]*c.B,
		m[1][0]*c.R+m[1][1]*c.G+m[1][2]*c.B,
		m[2][0]*c.R+m[2][1]*c.G+m[2][2]*c.B)
}

// unitLab takes X, Y, Z over those of white.
func unitLab(x, y, z float64) Lab {
	fx, fy, fz := labF(x), labF(y), labF(z)
	return Lab{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)}
}

func labF(t float64) float64 {
	if t > labEpsilon {
		return cubeRoot(t)
	}
	return (labKappa*t + 16) / 116
}

// cubeRoot is math.Cbrt for x > 0, and over many pixels several times as quick
// (BenchmarkLab1MP): a third of the exponent as the first guess, then two steps
// of Halley's method. See TestCubeRoot for how closely they agree.
func cubeRoot(x float64) float64 {
	y := math.Float64frombits(math.Float64bits(x)/3 + 715094163<<32)
	for range 2 {
		y3 := y * y * y
		y *= (y3 + 2*x) / (2*y3 + x)
	}
	return y
}

// XYZ returns the tristimulus values under D50.
func (c Lab) XYZ() XYZ {
	fy := (c.L + 16) / 116
	inverse := func(f float64) float64 {
		if f*f*f > labEpsilon {
			return f * f * f
		}
		return (116*f - 16) / labKappa
	}
	return XYZ{white[0] * inverse(fy+c.A/500), white[1] * inverse(fy), white[2] * inverse(fy-c.B/200)}
}

// LinearRGB returns the colour in the primaries of sRGB.
func (c Lab) LinearRGB() LinearRGB { return c.XYZ().LinearRGB() }

// Chroma returns C*ab.
func (c Lab) Chroma() float64 { return math.Hypot(c.A, c.B) }

// HueDeg returns the hue angle h_ab, in [0, 360). It means little where the
// chroma is not far above its uncertainty, and is 0 for neutral colours.
func (c Lab) HueDeg() float64 {
	if c.A == 0 && c.B == 0 {
		return 0 // Atan2 of a negative zero is 180°
	}
	h := math.Atan2(c.B, c.A) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}

// SRGB returns the colour as a screen would be sent it (IEC 61966-2-1, 8 bits),
// and whether the screen can show it: a colour outside sRGB is clipped, by half
// a code or more in some channel.
func (c LinearRGB) SRGB() (rgb [3]uint8, inGamut bool) {
	inGamut = true
	for k, x := range [3]float64{c.R, c.G, c.B} {
		code := math.Round(255 * linearToSRGB(x))
		if !(code >= 0 && code <= 255) { // NaN is in no gamut either
			inGamut = false
			code = min(max(code, 0), 255)
			if math.IsNaN(code) {
				code = 0
			}
		}
		rgb[k] = uint8(code)
	}
	return rgb, inGamut
}

// srgbToLinear is the transfer function of IEC 61966-2-1, encoded to linear.
func srgbToLinear(x float64) float64 {
	if x <= 0.04045 {
		return x / 12.92
	}
	return math.Pow((x+0.055)/1.055, 2.4)
}

// linearToSRGB is its inverse.
func linearToSRGB(x float64) float64 {
	if x <= 0.04045/12.92 {
		return x * 12.92
	}
	return 1.055*math.Pow(x, 1/2.4) - 0.055
}
