package scene

import "math"

// Place is a spot on the head's surface, met by going straight in to the axis.
// Beyond the tip it is the tip.
type Place struct {
	AlongMM   float64 // along the axis from the head's thickest place, + towards the hook
	AroundDeg float64 // about the axis: 0 on the eye's side, 90 on the side that faces the camera at roll 0
	Facing    bool    // count AroundDeg from the side that faces the camera instead
}

// Bare is a place the powder missed. Its edge is where the coat hides half.
type Bare struct {
	At      Place
	WidthMM float64 // across; along the axis for a band
	ArcDeg  float64 // 0 for a round spot; else a band this far about the axis
	SoftMM  float64 // width of the change from covered to bare
	Left    float64 // opacity left in the middle, below 0.5
	Ragged  float64 // how uneven the edge is, as a share of the width, up to 0.3
	ToMetal bool    // the base coat is missing too
}

// Kind names what departs from a smooth film.
type Kind string

const (
	Lump    Kind = "lump"
	Sag     Kind = "sag"
	Run     Kind = "run"
	Cone    Kind = "cone"
	Pinhole Kind = "pinhole"
	Crater  Kind = "crater"
	Void    Kind = "void"  // a casting void painted over: no fault
	Speck   Kind = "speck" // dust lying on the head: no fault
)

// Relief is one place where the film is not smooth or not clean.
type Relief struct {
	Kind     Kind
	At       Place
	WidthMM  float64 // across its foot
	LengthMM float64 // along the axis; 0 for a round one
	HeightMM float64 // above the smooth surface; for pinhole, crater and void the depth, also positive; specks have none
}

// Pinholes scatters n pinholes of about the given width over a side of the head.
func Pinholes(seed uint64, n int, widthMM float64, middle Place, spreadMM float64) []Relief {
	d := dice(seed)
	holes := make([]Relief, n)
	for i := range holes {
		at := middle
		at.AlongMM += d.between(-spreadMM, spreadMM)
		at.AroundDeg += d.between(-spreadMM, spreadMM) * 15
		w := widthMM * d.between(0.8, 1.2)
		holes[i] = Relief{Kind: Pinhole, At: at, WidthMM: w, HeightMM: w / 2}
	}
	return holes
}

// surface finds the place on the plain casting.
func (c *casting) surface(alongMM, aroundDeg float64) vec {
	sin, cos := math.Sincos(radians(aroundDeg))
	p, in := vec{alongMM, 15 * sin, 15 * cos}, vec{0, -sin, -cos}
	for gone := 0.0; gone < 15; {
		d := c.distance(p)
		if d < 1e-4 {
			return p
		}
		gone += d
		p = p.plus(d, in)
	}
	p = vec{math.Copysign(15, alongMM), 0, 0}
	for d := c.distance(p); d > 1e-4; d = c.distance(p) {
		p.x -= math.Copysign(d, alongMM)
	}
	return p
}

// fixed is a place found on the surface, with the directions there.
type fixed struct {
	at, out      vec // out is the surface normal
	along, aside vec // tangents, the first mostly along the axis
}

func (c *casting) fix(at vec) fixed {
	f := fixed{at: at, out: slope(c.distance, at).unit()}
	axis := vec{1, 0, 0}
	if math.Abs(f.out.x) > 0.95 {
		axis = vec{0, 0, 1}
	}
	f.along = axis.plus(-axis.dot(f.out), f.out).unit()
	f.aside = f.out.cross(f.along)
	return f
}

// slope is the gradient of a distance, by four samples.
func slope(distance func(vec) float64, p vec) vec {
	const e = 0.004
	a := distance(vec{p.x + e, p.y - e, p.z - e})
	b := distance(vec{p.x - e, p.y - e, p.z + e})
	c := distance(vec{p.x - e, p.y + e, p.z - e})
	d := distance(vec{p.x + e, p.y + e, p.z + e})
	return vec{a - b - c + d, -a - b + c + d, -a + b - c + d}.mul(1 / (4 * e))
}

// mark is a Relief on its place.
type mark struct {
	Relief
	fixed
}

// foot is how far p is from the middle, 1 at the mark's foot, and the offset
// within the surface.
func (m *mark) foot(p vec) (float64, vec) {
	q := p.sub(m.at)
	up := q.dot(m.out)
	if math.Abs(up) > 1+m.HeightMM {
		return 2, vec{} // the far side of the head
	}
	long := m.LengthMM
	if long == 0 {
		long = m.WidthMM
	}
	return hypot(q.dot(m.along)*2/long, q.dot(m.aside)*2/m.WidthMM), q.plus(-up, m.out)
}

// rise is the height in mm that a lump, sag, run, cone or void adds at p.
func (m *mark) rise(p vec) float64 {
	t, _ := m.foot(p)
	if t >= 1 {
		return 0
	}
	switch m.Kind {
	case Cone:
		return m.HeightMM * (hypot(1, 0.15) - hypot(t, 0.15)) / (hypot(1, 0.15) - 0.15)
	case Void:
		return -m.HeightMM * ramp((1-t)*1.6)
	}
	return m.HeightMM * (1 - t*t) * (1 - t*t)
}

// pit is the height gradient of a pinhole or crater at p and how much of the sky
// its walls leave.
func (m *mark) pit(p vec) (gradient vec, open float64) {
	t, q := m.foot(p)
	if t >= 1 || q.len() < 1e-9 {
		if t < 1 {
			return vec{}, 0.4
		}
		return vec{}, 1
	}
	half := m.WidthMM / 2
	var perT float64 // dh/dt
	if m.Kind == Crater {
		// a bowl in a low rim, h = −H (1 − t²)² (1 − 2.5 t²)
		perT = 2 * m.HeightMM * t * (1 - t*t) * (4.5 - 7.5*t*t)
		open = 1 - 0.2*(1-t)
	} else {
		// h = −H (1 − t²)²
		perT = 4 * m.HeightMM * t * (1 - t*t)
		open = 1 - 0.75*(1-t*t)
	}
	return q.unit().mul(perT / half), open
}

// patch is a Bare on its place.
type patch struct {
	Bare
	fixed
	around float64 // degrees about the axis
	seed   uint64
}

// opacity is the coat's opacity at p when it would be whole elsewhere.
func (b *patch) opacity(p vec, whole float64) float64 {
	var beyond float64 // distance outside the edge
	if b.ArcDeg > 0 {
		away := math.Abs(math.Remainder(math.Atan2(p.y, p.z)*180/math.Pi-b.around, 360))
		beyond = max(math.Abs(p.x-b.at.x)-b.WidthMM/2, radians(away-b.ArcDeg/2)*hypot(p.y, p.z))
	} else {
		beyond = p.sub(b.at).len() - b.WidthMM/2
	}
	if beyond > b.SoftMM*4+b.Ragged*b.WidthMM {
		return whole
	}
	if b.Ragged > 0 {
		beyond += b.Ragged * b.WidthMM * grain(b.seed, p, 0.4*b.WidthMM).x
	}
	// the logistic passes 0.5 exactly at the edge
	steep := 4 / max(b.SoftMM, 1e-3)
	half := math.Log((0.5 - b.Left) / max(whole-0.5, 1e-3))
	return b.Left + (whole-b.Left)/(1+math.Exp(-(steep*beyond+half)))
}
