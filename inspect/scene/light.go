package scene

import "math"

// Light is the light on the card: an even dome all around and, if it has a
// share, one square lamp. All is far away; FallOff stands for nearness.
type Light struct {
	LampShare    float64 // of the card's irradiance, 0 to 1; the dome gives the rest
	AzimuthDeg   float64 // where the lamp stands: 0 to the right of the photo, 90 above its top
	ElevationDeg float64 // of the lamp over the card
	HalfDeg      float64 // half the lamp's angular width
	LampK, DomeK float64 // colour temperatures; 0 is 6504
	FallOff      float64 // brightest over darkest corner of the frame; 0 and 1 are even. Of the lamp if there is one
	FallOffDeg   float64 // the direction of the brightest side, as AzimuthDeg
}

// Tent is a light tent.
func Tent(kelvin float64) Light { return Light{DomeK: kelvin} }

// Softbox is a large diffuse lamp in a bright room.
func Softbox(azimuthDeg, kelvin float64) Light {
	return Light{LampShare: 0.8, AzimuthDeg: azimuthDeg, ElevationDeg: 50, HalfDeg: 16, LampK: kelvin, DomeK: kelvin, FallOff: 1.3, FallOffDeg: azimuthDeg}
}

// OneLamp is a small bare lamp in a dim room.
func OneLamp(azimuthDeg, elevationDeg, kelvin float64) Light {
	return Light{LampShare: 0.9, AzimuthDeg: azimuthDeg, ElevationDeg: elevationDeg, HalfDeg: 2, LampK: kelvin, DomeK: kelvin, FallOff: 1.6, FallOffDeg: azimuthDeg}
}

// Window is daylight from one side with warm room light all around.
func Window(azimuthDeg float64) Light {
	return Light{LampShare: 0.7, AzimuthDeg: azimuthDeg, ElevationDeg: 38, HalfDeg: 18, LampK: 6500, DomeK: 2800, FallOff: 1.8, FallOffDeg: azimuthDeg}
}

// ray is one direction of the lamp and its irradiance at normal incidence.
type ray struct {
	to       vec
	strength float64
}

// lamps is a Light ready for shading, for a diffuser on the card under unit
// irradiance (in luminance) in the middle of the frame.
type lamps struct {
	Light
	dome, lamp RGB     // irradiance on the card
	rays       []ray   // their irradiance on the card adds up to 1
	radiance   float64 // of the lamp's face, times π, for a unit irradiance on the card
	middle     vec     // direction of the lamp
	u, v       vec     // along its sides
	perU, perV float64 // natural logarithm of the fall-off per mm
}

func (l Light) ready(widthMM, heightMM float64) *lamps {
	r := &lamps{Light: l, dome: kelvinRGB(l.DomeK).scale(1 - l.LampShare)}
	if l.FallOff > 1 {
		s, c := math.Sincos(radians(l.FallOffDeg))
		per := math.Log(l.FallOff) / (math.Abs(c)*widthMM + math.Abs(s)*heightMM)
		r.perU, r.perV = c*per, -s*per
	}
	if l.LampShare == 0 {
		return r
	}
	r.lamp = kelvinRGB(l.LampK).scale(l.LampShare)
	s, c := math.Sincos(radians(l.AzimuthDeg))
	se, ce := math.Sincos(radians(l.ElevationDeg))
	r.middle = vec{c * ce, -s * ce, se}
	r.u, r.v = across(r.middle)
	r.rays = r.split(int(clamp(math.Ceil(l.HalfDeg/4.5), 2, 5)))
	half := math.Tan(radians(l.HalfDeg))
	r.radiance = math.Pi * float64(len(r.rays)) * r.rays[0].strength / (4 * half * half)
	return r
}

// split cuts the lamp's face in n by n equal parts above the card.
func (l *lamps) split(n int) []ray {
	if l.LampShare == 0 {
		return nil
	}
	half := math.Tan(radians(l.HalfDeg))
	var rays []ray
	sum := 0.0
	for i := range n {
		for j := range n {
			a := half * (2*(float64(i)+0.5)/float64(n) - 1)
			b := half * (2*(float64(j)+0.5)/float64(n) - 1)
			d := l.middle.plus(a, l.u).plus(b, l.v).unit()
			if d.z > 0.02 {
				rays = append(rays, ray{d, 1})
				sum += d.z
			}
		}
	}
	for i := range rays {
		rays[i].strength = 1 / sum
	}
	return rays
}

// fallOff is the light at a place of the card relative to the middle of the
// frame, for the dome and for the lamp.
func (l *lamps) fallOff(x, y float64) (dome, lamp float64) {
	if l.perU == 0 && l.perV == 0 {
		return 1, 1
	}
	f := math.Exp(l.perU*x + l.perV*y)
	if l.LampShare > 0 {
		return 1, f
	}
	return f, 1
}

// onCard is the irradiance of an open card at a place.
func (l *lamps) onCard(x, y float64) RGB {
	dome, lamp := l.fallOff(x, y)
	return l.dome.scale(dome).add(l.lamp.scale(lamp))
}

// mirrored is the lamp's face as a mirror in direction d shows it, times π, for
// a unit irradiance on the card: the square blurred by a Gaussian of blurDeg.
func (l *lamps) mirrored(d vec, blurDeg float64) float64 {
	ahead := d.dot(l.middle)
	if ahead <= 0.1 {
		return 0
	}
	half, blur := math.Tan(radians(l.HalfDeg)), radians(blurDeg)*math.Sqrt2
	across := func(x float64) float64 { return math.Erf((half-x)/blur) + math.Erf((half+x)/blur) }
	return l.radiance * across(d.dot(l.u)/ahead) * across(d.dot(l.v)/ahead) / 4
}

// kelvinRGB is a black body's light at unit luminance.
func kelvinRGB(kelvin float64) RGB {
	if kelvin == 0 {
		kelvin = 6504
	}
	xyz := blackbodyXYZ(kelvin)
	return linearSRGB(xyz.scale(1 / xyz[1]))
}
