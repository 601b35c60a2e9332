package scene

import (
	"math"
	"math/cmplx"
)

// A Layer is a thin film of index N − iK (K > 0 absorbs) and thickness NM.
type Layer struct{ N, K, NM float64 }

// A Stack is films on a substrate, lit from a clear medium of index Outside.
// The index does not change with wavelength. Without films it is a bare mirror.
type Stack struct {
	Outside   float64
	Films     []Layer // from the outside in
	Substrate Layer   // its thickness does not matter
}

// Reflectance returns the power reflectance of both polarisations for light of
// the given vacuum wavelength in nm, coming in at thetaDeg in the outside medium.
// Characteristic-matrix method: M. Born and E. Wolf, Principles of Optics, 1.6.
func (s Stack) Reflectance(lambdaNM, thetaDeg float64) (rs, rp float64) {
	sin0, cos0 := math.Sincos(radians(thetaDeg))
	n0 := s.Outside
	// cos in a layer, on the branch whose wave decays inwards
	cosIn := func(n complex128) complex128 {
		c := cmplx.Sqrt(1 - complex(n0*sin0*n0*sin0, 0)/(n*n))
		if imag(n*c) > 0 {
			c = -c
		}
		return c
	}
	var r [2]float64
	for pol := range r {
		admittance := func(n, cos complex128) complex128 {
			if pol == 0 {
				return n * cos
			}
			return n / cos
		}
		sub := complex(s.Substrate.N, -s.Substrate.K)
		b, c := complex(1, 0), admittance(sub, cosIn(sub))
		for i := len(s.Films) - 1; i >= 0; i-- {
			n := complex(s.Films[i].N, -s.Films[i].K)
			cos := cosIn(n)
			phase := complex(2*math.Pi*s.Films[i].NM/lambdaNM, 0) * n * cos
			y := admittance(n, cos)
			sin, co := cmplx.Sin(phase), cmplx.Cos(phase)
			b, c = co*b+1i*sin/y*c, 1i*y*sin*b+co*c
		}
		y0 := admittance(complex(n0, 0), complex(cos0, 0))
		a := cmplx.Abs((y0*b - c) / (y0*b + c))
		r[pol] = a * a
	}
	return r[0], r[1]
}

// The spectral sums run over the visible range in these steps.
const (
	firstNM, lastNM, stepNM = 390.0, 730.0, 5.0
)

// RGBAt returns the mirror's colour as a reflectance factor in linear sRGB, for
// unpolarised light of the white of sRGB at thetaDeg in the outside medium. A
// component can be negative: strong interference colours leave the sRGB gamut.
func (s Stack) RGBAt(thetaDeg float64) RGB {
	var xyz RGB
	for nm := firstNM; nm <= lastNM; nm += stepNM {
		rs, rp := s.Reflectance(nm, thetaDeg)
		xyz = xyz.add(observer(nm).scale((rs + rp) / 2 * planck(nm, 6504)))
	}
	// 6504 K stands for D65; scaling by its own white takes out what is left.
	white := blackbodyXYZ(6504)
	for i, d65 := range [3]float64{0.95047, 1, 1.08883} {
		xyz[i] *= d65 / white[i]
	}
	return linearSRGB(xyz)
}

// observer is the CIE 1931 2° observer by the fit of C. Wyman, P.-P. Sloan and
// P. Shirley, Journal of Computer Graphics Techniques 2(2), 2013 (multi-lobe).
func observer(nm float64) RGB {
	lobe := func(mean, left, right float64) float64 {
		t := (nm - mean) / right
		if nm < mean {
			t = (nm - mean) / left
		}
		return math.Exp(-t * t / 2)
	}
	return RGB{
		1.056*lobe(599.8, 37.9, 31.0) + 0.362*lobe(442.0, 16.0, 26.7) - 0.065*lobe(501.1, 20.4, 26.2),
		0.821*lobe(568.8, 46.9, 40.5) + 0.286*lobe(530.9, 16.3, 31.1),
		1.217*lobe(437.0, 11.8, 36.0) + 0.681*lobe(459.0, 26.0, 13.8),
	}
}

// planck is a black body's relative spectrum.
func planck(nm, kelvin float64) float64 {
	const c2 = 1.438776877e7 // nm·K
	return math.Pow(nm/560, -5) / (math.Exp(c2/(nm*kelvin)) - 1)
}

func blackbodyXYZ(kelvin float64) RGB {
	var xyz RGB
	for nm := firstNM; nm <= lastNM; nm += stepNM {
		xyz = xyz.add(observer(nm).scale(planck(nm, kelvin)))
	}
	return xyz
}

// linearSRGB is the matrix of IEC 61966-2-1 from XYZ (D65, Y = 1 is white).
func linearSRGB(xyz RGB) RGB {
	x, y, z := xyz[0], xyz[1], xyz[2]
	return RGB{
		3.2406*x - 1.5372*y - 0.4986*z,
		-0.9689*x + 1.8758*y + 0.0415*z,
		0.0557*x - 0.2040*y + 1.0570*z,
	}
}
