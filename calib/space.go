package calib

// Chromaticity is a colour without its lightness: CIE 1931 x, y, 2° observer.
type Chromaticity struct{ X, Y float64 }

var (
	d50 = Chromaticity{0.3457, 0.3585} // the white of every Lab and XYZ in this program, see Lab
	d65 = Chromaticity{0.3127, 0.3290} // the white of sRGB, IEC 61966-2-1
)

// xyz returns the tristimulus values with Y = 1.
func (c Chromaticity) xyz() [3]float64 {
	return [3]float64{c.X / c.Y, 1, (1 - c.X - c.Y) / c.Y}
}

// A matrix is applied to a column.
type matrix [3][3]float64

func (m matrix) apply(v [3]float64) [3]float64 {
	var w [3]float64
	for i := range w {
		w[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
	}
	return w
}

func (m matrix) mul(n matrix) matrix {
	var p matrix
	for i := range p {
		for j := range p[i] {
			p[i][j] = m[i][0]*n[0][j] + m[i][1]*n[1][j] + m[i][2]*n[2][j]
		}
	}
	return p
}

// inverse divides by the determinant; of a singular matrix it is not finite.
func (m matrix) inverse() matrix {
	var inv matrix
	for i := range inv {
		for j := range inv[i] {
			a, b, c, d := (j+1)%3, (j+2)%3, (i+1)%3, (i+2)%3
			inv[i][j] = m[a][c]*m[b][d] - m[a][d]*m[b][c]
		}
	}
	det := m[0][0]*inv[0][0] + m[0][1]*inv[1][0] + m[0][2]*inv[2][0]
	for i := range inv {
		for j := range inv[i] {
			inv[i][j] /= det
		}
	}
	return inv
}

// scaleColumns multiplies column j by s[j].
func (m matrix) scaleColumns(s [3]float64) matrix {
	for i := range m {
		for j := range m[i] {
			m[i][j] *= s[j]
		}
	}
	return m
}

// A space is a set of RGB primaries and their white. Photos name one; what they
// mean in light follows from it.
type space struct{ red, green, blue, white Chromaticity }

var (
	srgbSpace     = space{Chromaticity{0.64, 0.33}, Chromaticity{0.30, 0.60}, Chromaticity{0.15, 0.06}, d65}       // IEC 61966-2-1
	p3Space       = space{Chromaticity{0.680, 0.320}, Chromaticity{0.265, 0.690}, Chromaticity{0.150, 0.060}, d65} // SMPTE EG 432-1, white D65
	adobeRGBSpace = space{Chromaticity{0.64, 0.33}, Chromaticity{0.21, 0.71}, Chromaticity{0.15, 0.06}, d65}       // IEC 61966-2-5
	rec2020Space  = space{Chromaticity{0.708, 0.292}, Chromaticity{0.170, 0.797}, Chromaticity{0.131, 0.046}, d65} // ITU-R BT.2020
)

// toXYZ takes linear RGB of the space to XYZ under the space's own white.
func (s space) toXYZ() matrix {
	r, g, b := s.red.xyz(), s.green.xyz(), s.blue.xyz()
	m := matrix{{r[0], g[0], b[0]}, {r[1], g[1], b[1]}, {r[2], g[2], b[2]}}
	return m.scaleColumns(m.inverse().apply(s.white.xyz())) // R = G = B = 1 is white
}

// bradford are the sharpened cone responses of ICC.1:2022 annex E.
var bradford = matrix{{0.8951, 0.2664, -0.1614}, {-0.7502, 1.7135, 0.0367}, {0.0389, -0.0685, 1.0296}}

// adapt returns the linear Bradford adaptation of XYZ seen under the white
// from to XYZ seen under the white to, ICC.1:2022 annex E.
func adapt(from, to [3]float64) matrix {
	f, t := bradford.apply(from), bradford.apply(to)
	gain := matrix{{t[0] / f[0]}, {0, t[1] / f[1]}, {0, 0, t[2] / f[2]}}
	return bradford.inverse().mul(gain).mul(bradford)
}

// toSRGB takes linear RGB of the space to linear light in sRGB primaries.
func (s space) toSRGB() matrix {
	return srgbSpace.toXYZ().inverse().mul(adapt(s.white.xyz(), d65.xyz())).mul(s.toXYZ())
}
