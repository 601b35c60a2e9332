package scene

import "math"

// vec is a place or a direction. In the world x runs right and y down the
// photo, z from the card to the camera, all in mm. In a piece's own frame x is
// the head's axis from tip to hook, z points to the line-tie eye, y to the side.
type vec struct{ x, y, z float64 }

func (a vec) add(b vec) vec             { return vec{a.x + b.x, a.y + b.y, a.z + b.z} }
func (a vec) sub(b vec) vec             { return vec{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vec) mul(s float64) vec         { return vec{a.x * s, a.y * s, a.z * s} }
func (a vec) dot(b vec) float64         { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vec) len() float64              { return math.Sqrt(a.dot(a)) }
func (a vec) unit() vec                 { return a.mul(1 / a.len()) }
func (a vec) plus(s float64, b vec) vec { return vec{a.x + s*b.x, a.y + s*b.y, a.z + s*b.z} }

func (a vec) cross(b vec) vec {
	return vec{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x}
}

// across returns two unit vectors that make a right-angled frame with n.
func across(n vec) (vec, vec) {
	t := vec{1, 0, 0}
	if math.Abs(n.x) > 0.9 {
		t = vec{0, 1, 0}
	}
	t = n.cross(t).unit()
	return t, n.cross(t)
}

// RGB is linear light in sRGB primaries: a reflectance factor, a gain or a
// relative irradiance, as its name says.
type RGB [3]float64

func (a RGB) add(b RGB) RGB       { return RGB{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a RGB) mul(b RGB) RGB       { return RGB{a[0] * b[0], a[1] * b[1], a[2] * b[2]} }
func (a RGB) scale(s float64) RGB { return RGB{a[0] * s, a[1] * s, a[2] * s} }

// mix is a for share 0 and b for share 1.
func (a RGB) mix(b RGB, share float64) RGB {
	return RGB{a[0] + (b[0]-a[0])*share, a[1] + (b[1]-a[1])*share, a[2] + (b[2]-a[2])*share}
}

func clamp(x, low, high float64) float64 { return max(low, min(high, x)) }

// ramp rises smoothly from 0 at x ≤ 0 to 1 at x ≥ 1.
func ramp(x float64) float64 {
	x = clamp(x, 0, 1)
	return x * x * (3 - 2*x)
}

// hypot is much faster than math.Hypot, and lengths here are far from overflow.
func hypot(x, y float64) float64 { return math.Sqrt(x*x + y*y) }

func radians(deg float64) float64 { return deg * math.Pi / 180 }
