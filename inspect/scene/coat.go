package scene

import (
	"cmp"
	"math"
)

// Coat is a powder coat: flat flakes and pigment in a clear binder of index 1.5
// with a smooth top. The zero value is a matte black that hides fully.
type Coat struct {
	Pigment    RGB     // diffuse reflectance of a hiding film of the pigment alone
	Flake      Stack   // what the flakes are made of, in the binder
	FlakeShare float64 // of the light that meets a flake before pigment, 0 to 1
	SpreadDeg  float64 // RMS tilt of the flakes; 0 is 8
	Tint       RGB     // what the binder over the flakes passes, in and out; zero is clear
	BuildUM    float64 // film build; 0 is 70
	HalfUM     float64 // the film build that hides half; 0 is 8
	GlossDeg   float64 // blur of what the top mirrors, RMS; 0 is 2.5; above 30 is matte
	Sparkle    float64 // how far single flakes stand out: 0 none, 1 strong
	FlakeMM    float64 // size of a flake; 0 is 0.03
	PeelMM     float64 // wavelength of the orange peel
	PeelUM     float64 // its RMS height; 0 is none
}

// Base is what lies under the coat.
type Base string

const (
	NoBase    Base = "none" // bare lead
	WhiteBase Base = "white"
	BlackBase Base = "black"
)

const binderIndex = 1.5

// Opacity is how far a film of this build hides what is under it, in [0, 1]:
// 1 − 2^(−build/half), the Beer-Lambert law.
func (c Coat) Opacity(buildUM float64) float64 { return 1 - math.Exp2(-buildUM/c.HalfUM) }

func (c *Coat) defaults() {
	c.SpreadDeg = cmp.Or(c.SpreadDeg, 8)
	c.BuildUM = cmp.Or(c.BuildUM, 70)
	c.HalfUM = cmp.Or(c.HalfUM, 8)
	c.GlossDeg = cmp.Or(c.GlossDeg, 2.5)
	c.FlakeMM = cmp.Or(c.FlakeMM, 0.03)
	if c.Tint == (RGB{}) {
		c.Tint = RGB{1, 1, 1}
	}
}

// A finish is a surface ready for shading: coat, base, lead and wire alike. Its
// tables run over the cosine of the viewing angle; the camera looks straight
// down, so the light from above and from below is the same all around it.
type finish struct {
	coat    Coat
	index   float64        // of the binder; 1 for bare metal
	dark    RGB            // absorbance of the binder, in and out at the normal, base e
	mirror  [91]RGB        // a flake's reflectance by the angle on it in the binder, per degree
	slope   float64        // Beckmann slope of the flakes
	above   [steps + 1]RGB // body seen under a dome of unit irradiance
	below   [steps + 1]RGB // body seen under the unit dome's mirror image from below
	glareUp [steps + 1]float64
	glareDn [steps + 1]float64
}

const steps = 128

func newFinish(c Coat) *finish {
	c.defaults()
	f := &finish{coat: c, index: binderIndex, slope: math.Tan(radians(c.SpreadDeg))}
	for i, t := range c.Tint {
		f.dark[i] = -math.Log(max(t, 1e-9))
	}
	if c.FlakeShare > 0 {
		for deg := range f.mirror {
			f.mirror[deg] = c.Flake.RGBAt(float64(deg))
		}
	}
	f.fill()
	return f
}

// metal is a rough bare metal of the given mirror reflectance, with some
// diffuse light from scale and dirt on it.
func metal(mirror RGB, roughDeg, diffuse float64) *finish {
	c := Coat{FlakeShare: 1 - diffuse, Pigment: RGB{1, 1, 1}, SpreadDeg: roughDeg, GlossDeg: 90, Sparkle: 0.15, FlakeMM: 0.05}
	c.defaults()
	f := &finish{coat: c, index: 1, slope: math.Tan(radians(roughDeg))}
	for deg := range f.mirror {
		// Schlick's rise towards grazing
		grazing := math.Pow(1-math.Cos(radians(float64(deg))), 5)
		f.mirror[deg] = mirror.mix(RGB{1, 1, 1}, grazing)
	}
	f.fill()
	return f
}

// fresnel is the unpolarised reflectance of the top seen under cos from outside.
func fresnel(cos, index float64) float64 {
	in := math.Sqrt(1 - (1-cos*cos)/(index*index))
	s := (cos - index*in) / (cos + index*in)
	p := (index*cos - in) / (index*cos + in)
	return (s*s + p*p) / 2
}

// refract turns a direction pointing out of the surface into the binder, still
// pointing out.
func (f *finish) refract(d, n vec) vec {
	if f.index == 1 {
		return d
	}
	along := d.plus(-d.dot(n), n).mul(1 / f.index)
	return along.plus(math.Sqrt(max(0, 1-along.dot(along))), n)
}

// fill makes the tables of the light from all around, by sampling the tilts of
// the flakes (microfacet reflection; B. Walter and others, "Microfacet models
// for refraction through rough surfaces", EGSR 2007).
func (f *finish) fill() {
	const rings, turns = 48, 24 // half a turn: the other half mirrors it
	n := vec{0, 0, 1}
	for i := range f.above {
		cos := max(float64(i)/steps, 0.01)
		view := vec{math.Sqrt(1 - cos*cos), 0, cos} // the camera, in the surface's frame
		through := 1 - fresnel(cos, max(f.index, 1.0001))
		inView := f.refract(view, n)
		var up, down RGB
		for j := range rings {
			for k := 0; k < turns && f.coat.FlakeShare > 0; k++ {
				u := (float64(j) + 0.5) / rings
				tan := f.slope * math.Sqrt(-math.Log(1-u))
				sin, co := math.Sincos(math.Pi * (float64(k) + 0.5) / turns)
				h := vec{tan * co, tan * sin, 1}.unit()
				vh := inView.dot(h)
				in := h.mul(2 * vh).sub(inView)
				if vh <= 0 || in.z <= 0.001 {
					continue
				}
				sinOut := hypot(in.x, in.y) * f.index
				if sinOut >= 1 {
					continue // kept in by total reflection
				}
				cosOut := math.Sqrt(1 - sinOut*sinOut)
				from := vec{in.x * f.index, in.y * f.index, cosOut}
				weight := vh * shadowing(h.z, inView.z, in.z, vh) / (inView.z * h.z) *
					through * (1 - fresnel(cosOut, max(f.index, 1.0001))) / (rings * turns)
				path := (1/inView.z + 1/in.z) / 2
				c := f.flake(vh, path).scale(weight)
				if from.dot(view) > 0 {
					up = up.add(c)
				} else {
					down = down.add(c)
				}
			}
		}
		body := f.pigment(cos)
		f.above[i] = up.scale(f.coat.FlakeShare).add(body.scale((1 + cos) / 2))
		f.below[i] = down.scale(f.coat.FlakeShare).add(body.scale((1 - cos) / 2))
		if f.glossy() {
			// what the top mirrors lies at twice the viewing angle; the horizon is
			// blurred by the top and by the tent's own floor, some 15° either way
			above := math.Pi/2 - 2*math.Acos(cos)
			share := ramp(0.5 + above/(2*radians(15+2*f.coat.GlossDeg)))
			f.glareUp[i] = fresnel(cos, f.index) * share
			f.glareDn[i] = fresnel(cos, f.index) * (1 - share)
		}
	}
}

func (f *finish) glossy() bool { return f.index > 1 && f.coat.GlossDeg <= 30 }

// shadowing is what neighbours leave of a tilted facet (V-cavities).
func shadowing(nh, nv, nl, vh float64) float64 {
	return min(1, min(2*nh*nv/vh, 2*nh*nl/vh))
}

// flake is the flakes' reflectance at an angle on them, through the tinted binder.
func (f *finish) flake(cos, path float64) RGB {
	deg := math.Acos(min(cos, 1)) * 180 / math.Pi
	i := int(min(deg, 89))
	c := f.mirror[i].mix(f.mirror[i+1], deg-float64(i))
	if f.coat.Tint == (RGB{1, 1, 1}) {
		return c
	}
	for j, dark := range f.dark {
		c[j] *= math.Exp(-path * dark)
	}
	return c
}

// pigment is the diffuse part seen under cos: less at the rim, where the top
// keeps more of the light in.
func (f *finish) pigment(cos float64) RGB {
	c := f.coat.Pigment.scale(1 - f.coat.FlakeShare)
	if f.index == 1 {
		return c
	}
	return c.scale((1 - fresnel(cos, f.index)) / (1 - fresnel(1, f.index)))
}

// sight is a finish with normal n seen by the camera, and what all lights share.
type sight struct {
	f       *finish
	n, view vec // the view inside the binder
	cos     float64
	passes  float64 // of the top, on the way out
}

func (f *finish) seen(n vec) sight {
	const grazing = 0.01
	up := vec{0, 0, 1}
	s := sight{f: f, n: n, view: f.refract(up, n), passes: 1}
	s.cos = max(s.view.dot(n), grazing)
	if f.index > 1 {
		s.passes = (1 - fresnel(max(n.z, grazing), f.index)) / (f.index * f.index)
	}
	return s
}

// lobe is the flakes' part of the light from direction l, as a reflectance
// factor times the cosine at the surface: π f cos.
func (s *sight) lobe(l vec) RGB {
	f, nl := s.f, s.n.dot(l)
	if nl <= 0 {
		return RGB{}
	}
	in := f.refract(l, s.n)
	h := s.view.add(in).unit()
	nh := s.n.dot(h)
	tan2 := (1 - nh*nh) / (nh * nh * f.slope * f.slope)
	if tan2 > 12 || nh <= 0 {
		return RGB{} // less than 1e-5 of the flakes lie so
	}
	vh, cosIn := s.view.dot(h), in.dot(s.n)
	density := math.Exp(-tan2) / (math.Pi * f.slope * f.slope * nh * nh * nh * nh)
	scale := math.Pi * density * shadowing(nh, s.cos, cosIn, vh) / (4 * s.cos * cosIn) * nl * s.passes
	if f.index > 1 {
		scale *= 1 - fresnel(nl, f.index)
	}
	return f.flake(vh, (1/s.cos+1/cosIn)/2).scale(scale * f.coat.FlakeShare)
}

// at reads a table at a cosine.
func at(table *[steps + 1]RGB, cos float64) RGB {
	x := clamp(cos, 0, 1) * steps
	i := int(min(x, steps-1))
	return table[i].mix(table[i+1], x-float64(i))
}

func at1(table *[steps + 1]float64, cos float64) float64 {
	x := clamp(cos, 0, 1) * steps
	i := int(min(x, steps-1))
	return table[i] + (table[i+1]-table[i])*(x-float64(i))
}

// The powders' makings below are textbook values, constant over the spectrum.

// Aluminium flakes, as in metallic coats, in the binder.
func Aluminium() Stack { return Stack{Outside: binderIndex, Substrate: Layer{N: 0.96, K: 6.69}} }

// ColourShift is an interference flake whose hue travels with angle: a thin
// chromium layer, a clear spacer of index 1.38 and the given thickness, and
// aluminium behind. Its bright bands lie near 2·1.38·d·cosθ/m less a small shift by the metals.
func ColourShift(spacerNM float64) Stack {
	return Stack{
		Outside:   binderIndex,
		Films:     []Layer{{3.2, 3.3, 7}, {1.38, 0, spacerNM}},
		Substrate: Layer{N: 0.96, K: 6.69},
	}
}

// Pearl is a clear plate of high index in the binder: pale colours, most of the
// light passes.
func Pearl(thicknessNM float64) Stack {
	return Stack{Outside: binderIndex, Films: []Layer{{2.5, 0, thicknessNM}}, Substrate: Layer{N: binderIndex}}
}
