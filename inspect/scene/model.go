package scene

import (
	"image"
	"math"
	"sort"
	"sync"
)

// model is a piece ready to be drawn: its surfaces, its finishes and its pose.
type model struct {
	Piece
	cast    casting
	hook    hook
	marks   []mark // lumps, sags, runs, cones and voids
	pits    []mark // pinholes and craters
	patches []patch
	specks  []mark
	waves   []wave // orange peel
	seed    uint64

	coat, base, lead, steel, lint *finish

	centre     vec // of the head, in the world
	ax, ay, az vec // the piece's own axes in the world
	rods       []rod
	casting    int     // so many of the rods are the casting's
	top        float64 // over the card
	near       [2]tiles
}

// wave is one of the plane waves that make the orange peel.
type wave struct {
	k     vec
	amp   float64
	phase float64
}

func newModel(p Piece) *model {
	m := &model{Piece: p, cast: newCasting(p.Head), seed: mixBits(p.Seed)}
	m.hook = newHook(p.Wire, &m.cast)
	m.pose()
	for _, r := range p.Relief {
		k := mark{r, m.place(r.At)}
		switch r.Kind {
		case Pinhole, Crater:
			m.pits = append(m.pits, k)
		case Speck:
			m.specks = append(m.specks, k)
		default:
			m.marks = append(m.marks, k)
		}
	}
	d := dice(m.seed)
	for i, b := range p.Bare {
		f := m.place(b.At)
		m.patches = append(m.patches, patch{b, f, math.Atan2(f.at.y, f.at.z) * 180 / math.Pi, m.seed + 10 + uint64(i)})
	}
	const waves = 16
	if p.Coat.PeelUM > 0 {
		amp := p.Coat.PeelUM / 1000 * math.Sqrt(2.0/waves)
		for i := range waves {
			u, v := fibonacci(i, waves)
			s, c := math.Sincos(2 * math.Pi * v)
			z := 2*u - 1
			k := 2 * math.Pi / (p.Coat.PeelMM * d.between(0.85, 1.2))
			flat := math.Sqrt(1 - z*z)
			m.waves = append(m.waves, wave{vec{flat * c, flat * s, z}.mul(k), amp, d.between(0, 6.28)})
		}
	}
	m.coat = newFinish(p.Coat)
	m.lead, m.steel = lead(), nickel()
	if p.Wire.Metal != (RGB{}) {
		m.steel = metal(p.Wire.Metal, 13, 0.03)
	}
	m.lint = newFinish(Coat{Pigment: RGB{0.5, 0.48, 0.45}, GlossDeg: 90})
	switch p.Base {
	case WhiteBase:
		m.base = newFinish(Coat{Pigment: RGB{0.83, 0.83, 0.81}})
	case BlackBase:
		m.base = newFinish(Coat{Pigment: RGB{0.012, 0.012, 0.012}})
	}
	return m
}

// Cast lead that has dulled, and a hook's plating.
var (
	lead   = sync.OnceValue(func() *finish { return metal(RGB{0.1, 0.102, 0.106}, 20, 0.02) })
	nickel = sync.OnceValue(func() *finish { return metal(RGB{0.56, 0.54, 0.51}, 13, 0.03) })
)

// pose sets the axes and lays the piece on the card.
func (m *model) pose() {
	st, ct := math.Sincos(radians(m.TurnDeg))
	sl, cl := math.Sincos(radians(m.TiltDeg))
	sr, cr := math.Sincos(radians(m.RollDeg))
	m.ax = vec{ct * cl, -st * cl, sl}
	eye := vec{-st, -ct, 0}
	face := vec{-ct * sl, st * sl, cl}
	m.az = eye.mul(cr).plus(sr, face)
	m.ay = face.mul(cr).plus(-sr, eye)
	m.centre = vec{m.X, m.Y, 0}
	lowest := math.Inf(1)
	casting := m.cast.rods()
	m.casting = len(casting)
	for _, r := range append(casting, m.hook.rods()...) {
		r.a, r.b = m.toPhoto(r.a), m.toPhoto(r.b)
		m.rods = append(m.rods, r)
		lowest = min(lowest, min(r.a.z, r.b.z)-r.r)
	}
	for i := range m.rods {
		m.rods[i].a.z -= lowest
		m.rods[i].b.z -= lowest
		m.top = max(m.top, max(m.rods[i].a.z, m.rods[i].b.z)+m.rods[i].r+m.bulk())
	}
	m.centre.z = -lowest
	m.near[0] = newTiles(m.rods[:m.casting], m.bulk())
	m.near[1] = newTiles(m.rods[m.casting:], 0.15)
}

func (m *model) toWorld(d vec) vec { return m.ax.mul(d.x).plus(d.y, m.ay).plus(d.z, m.az) }
func (m *model) toPhoto(p vec) vec { return m.centre.add(m.toWorld(p)) }
func (m *model) toPiece(p vec) vec {
	p = p.sub(m.centre)
	return vec{p.dot(m.ax), p.dot(m.ay), p.dot(m.az)}
}

// place finds a Place on the casting.
func (m *model) place(at Place) fixed {
	around := at.AroundDeg
	if at.Facing {
		around += math.Atan2(m.ay.z, m.az.z) * 180 / math.Pi
	}
	return m.cast.fix(m.cast.surface(at.AlongMM, around))
}

// rods stands for the casting when it casts shadows: balls inside it and a ring
// for each lip.
func (c *casting) rods() []rod {
	var balls []rod
	add := func(p vec) {
		if r := -c.distance(p); r > 0.3 {
			balls = append(balls, rod{p, p, r})
		}
	}
	const step = 0.5
	for x := -12.0; x < c.end(); x += step {
		add(vec{x, 0, 0})
		if c.Style == Wedge {
			for z := step; z < c.big; z += step {
				add(vec{x, 0, z})
				add(vec{x, 0, -z})
			}
		}
	}
	sort.SliceStable(balls, func(i, j int) bool { return balls[i].r > balls[j].r })
	var kept []rod
next:
	for _, b := range balls {
		for _, k := range kept {
			if b.a.sub(k.a).len()+b.r < k.r+0.06 {
				continue next
			}
		}
		kept = append(kept, b)
	}
	// rings of thin rods where a ball cannot reach: lips, the back of a bullet,
	// the rim of a coin
	ring := func(radius, r float64, at func(sin, cos float64) vec) {
		const parts = 12
		last := at(0, radius)
		for i := 1; i <= parts; i++ {
			s, co := math.Sincos(2 * math.Pi * float64(i) / parts)
			next := at(radius*s, radius*co)
			kept = append(kept, rod{last, next, r})
			last = next
		}
	}
	for _, x := range c.lips {
		ring(c.neck+lipMM-0.15, 0.13, func(s, co float64) vec { return vec{x, s, co} })
	}
	switch c.Style {
	case Bullet:
		ring(0.8*c.big-0.5, 0.5, func(s, co float64) vec { return vec{c.back - 0.55, s, co} })
	case Coin:
		ring(c.big-0.42*c.big, 0.42*c.big, func(s, co float64) vec { return vec{s, 0, co} })
	}
	return kept
}

// relief is what mould and marks add to the casting at p, in mm.
func (m *model) relief(p vec) float64 {
	r := m.cast.mouldRelief(p)
	for i := range m.marks {
		r += m.marks[i].rise(p)
	}
	return r
}

func (m *model) headDistance(p vec) float64 {
	d := m.cast.distance(p)
	if d > 1.5 {
		return d
	}
	return d - m.relief(p)
}

// micro is the height gradient of orange peel and pits, too fine to bend the
// outline, and how much light the pits let in.
func (m *model) micro(p vec) (gradient vec, open float64) {
	open = 1
	for i := range m.waves {
		w := &m.waves[i]
		gradient = gradient.plus(w.amp*math.Cos(w.k.dot(p)+w.phase), w.k)
	}
	for i := range m.pits {
		g, o := m.pits[i].pit(p)
		gradient, open = gradient.add(g), open*o
	}
	return gradient, open
}

// opacity is the coat's at p, and whether there is a base coat under it.
func (m *model) opacity(p vec) (opacity float64, based bool) {
	whole := m.coat.coat.Opacity(m.coat.coat.BuildUM * (1 + 0.12*grain(m.seed+1, p, 1.7).x))
	opacity, based = whole, m.Base != "" && m.Base != NoBase
	for i := range m.patches {
		if o := m.patches[i].opacity(p, whole); o < opacity {
			opacity = o
			based = based && (!m.patches[i].ToMetal || o > 0.9*whole)
		}
	}
	return opacity, based
}

// hit is where a ray meets the piece.
type hit struct {
	p    vec     // in the piece's frame
	z    float64 // over the card
	part part
}

// march sends a ray straight down until it meets the surface.
func (m *model) march(distance func(vec) float64, x, y, top float64) (hit, bool) {
	p := m.toPiece(vec{x, y, top})
	down := vec{-m.ax.z, -m.ay.z, -m.az.z}
	z := top
	for range 160 {
		d := distance(p)
		if d < 0.0005 {
			return hit{p: p, z: z}, true
		}
		d = max(0.9*d, 0.0005)
		z -= d
		if z < -0.5 {
			break
		}
		p = p.plus(d, down)
	}
	return hit{}, false
}

func (m *model) hitHead(x, y float64) (hit, bool) {
	if !m.near[0].has(x, y) {
		return hit{}, false
	}
	return m.march(m.headDistance, x, y, m.top)
}

func (m *model) hitWire(x, y float64) (hit, bool) {
	if !m.near[1].has(x, y) {
		return hit{}, false
	}
	h, ok := m.march(m.wireDistance, x, y, m.top)
	if ok {
		_, h.part = m.hook.distance(h.p)
	}
	return h, ok
}

func (m *model) wireDistance(p vec) float64 { d, _ := m.hook.distance(p); return d }

// headNormal and wireNormal are in the world; the head's is the plain casting's.
func (m *model) headNormal(p vec) vec { return m.toWorld(slope(m.cast.distance, p)).unit() }
func (m *model) wireNormal(p vec) vec { return m.toWorld(slope(m.wireDistance, p)).unit() }

// bulk is how far the head can reach beyond the balls that stand for it.
func (m *model) bulk() float64 {
	b := 0.8
	for _, r := range m.Relief {
		b = max(b, 0.8+r.HeightMM)
	}
	return b
}

// box is where in the photo the piece can be.
func (m *model) box(f *frame) image.Rectangle {
	var box image.Rectangle
	for i := range m.near {
		n := &m.near[i]
		if n.on == nil {
			continue
		}
		x0, y0 := f.px(vec{n.x0, n.y0, 0})
		x1, y1 := f.px(vec{n.x0 + float64(n.w)*tileMM, n.y0 + float64(n.h)*tileMM, 0})
		box = box.Union(image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(x1)+1, int(y1)+1))
	}
	return box
}

// tiles says where in the photo rods are near, to spare rays.
type tiles struct {
	x0, y0 float64
	w, h   int
	on     []bool
}

const tileMM = 0.4

func newTiles(rods []rod, margin float64) tiles {
	if len(rods) == 0 {
		return tiles{}
	}
	low, high := vec{1e9, 1e9, 0}, vec{-1e9, -1e9, 0}
	for _, r := range rods {
		wide := r.r + margin + tileMM
		low.x, low.y = min(low.x, min(r.a.x, r.b.x)-wide), min(low.y, min(r.a.y, r.b.y)-wide)
		high.x, high.y = max(high.x, max(r.a.x, r.b.x)+wide), max(high.y, max(r.a.y, r.b.y)+wide)
	}
	t := tiles{x0: low.x, y0: low.y, w: int((high.x-low.x)/tileMM) + 1, h: int((high.y-low.y)/tileMM) + 1}
	t.on = make([]bool, t.w*t.h)
	for i := range t.on {
		p := vec{t.x0 + (float64(i%t.w)+0.5)*tileMM, t.y0 + (float64(i/t.w)+0.5)*tileMM, 0}
		for _, r := range rods {
			a, b := vec{r.a.x, r.a.y, 0}, vec{r.b.x + 1e-6, r.b.y, 0}
			if segmentDistance(p, a, b) < r.r+margin+tileMM*0.71 {
				t.on[i] = true
				break
			}
		}
	}
	return t
}

func (t *tiles) has(x, y float64) bool {
	i, j := int(math.Floor((x-t.x0)/tileMM)), int(math.Floor((y-t.y0)/tileMM))
	return i >= 0 && j >= 0 && i < t.w && j < t.h && t.on[j*t.w+i]
}
