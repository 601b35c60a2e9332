// Package scene draws photographs of painted jig heads on a grey card with known
// truth, for the demo and for every test that needs a photo. It is a small
// physical model: see the comments at Light, Coat and Render for what it leaves out.
package scene

import (
	"cmp"
	"image"
	"math"
	"runtime"
	"sync"
)

// Spec is what is in a photo and how it is taken. Lengths on the card are in mm
// from the middle of the frame, y down.
type Spec struct {
	Seed          uint64 // of noise and dust
	Width, Height int    // px; 0 is 1600 by 1200
	MMPerPx       float64
	Pieces        []Piece
	Card          *Card // nil is none
	Table         Table
	Flats         []Flat // printed sheets, later ones on top
	Specks, Hairs int    // lying on the ground
	Light         Light
	Camera        Camera
}

// Piece is one head with its paint, faults and pose.
type Piece struct {
	Seed   uint64 // of flakes, film build and ragged edges: the piece's own in all its photos
	Head   Head
	Wire   Wire
	Coat   Coat
	Base   Base
	Bare   []Bare
	Relief []Relief

	X, Y    float64 // of the head's thickest place, mm from the middle of the frame
	RollDeg float64 // about the axis: 0 side view, 90 the eye towards the camera
	TurnDeg float64 // in the photo, counter-clockwise: 0 has the hook to the right
	TiltDeg float64 // the hook's end lifted off the card
}

// Render draws the photo, encoded for sRGB, and says what is in it. The camera
// looks straight down from far away. The light's colour and a surface's colour
// multiply channel by channel in linear sRGB. Not modelled: light from the piece
// onto the card or itself, perspective, depth of field, demosaicing.
func Render(s Spec) (*image.NRGBA, Truth) {
	s.Width, s.Height = cmp.Or(s.Width, 1600), cmp.Or(s.Height, 1200)
	s.MMPerPx = cmp.Or(s.MMPerPx, 0.02)
	w, h := s.sizeMM()
	f := newFrame(s.Width, s.Height, s.MMPerPx)
	l := s.Light.ready(w, h)
	var models []*model
	var rods []rod
	for _, p := range s.Pieces {
		m := newModel(p)
		models = append(models, m)
		rods = append(rods, m.rods...)
	}
	cast := newCastShadow(rods, l, f)
	g := s.ground()
	g.draw(f, l, cast)
	t := newTruth(&s)
	for _, m := range models {
		d := &drawing{frame: f, model: m, light: l, ground: g, rods: rods, cast: cast, truth: &t}
		d.box = m.box(f).Intersect(image.Rect(0, 0, f.w, f.h))
		if !d.box.Empty() {
			d.draw()
		}
	}
	t.finish(&s)
	return s.Camera.shoot(f, l.onCard(0, 0), s.Seed), t
}

func (s *Spec) sizeMM() (w, h float64) {
	return float64(s.Width) * s.MMPerPx, float64(s.Height) * s.MMPerPx
}

// drawing draws one piece over the ground.
type drawing struct {
	*frame
	model  *model
	light  *lamps
	ground *ground
	rods   []rod // of all pieces
	cast   *castShadow
	truth  *Truth
	shades [2]*shadeMap // of the head and of the wire
	box    image.Rectangle
	dots   []dot // over box
}

// dot is what one ray through the photo meets.
type dot struct {
	hit
	class   uint8
	body    RGB // as the camera sees it, in units of a diffuser under unit irradiance
	glare   RGB // mirrored by the top of the coat
	opacity float64
	viewing float64 // degrees, from the plain casting's normal
	based   bool    // a base coat lies under the coat
}

func (d *drawing) draw() {
	d.shades[0] = d.newShadeMap(d.model.hitHead, d.model.headNormal)
	d.shades[1] = d.newShadeMap(d.model.hitWire, d.model.wireNormal)
	wide := d.box.Dx()
	d.dots = make([]dot, wide*d.box.Dy())
	rows(d.box.Dy(), func(j int) {
		for i := range wide {
			d.dots[j*wide+i] = d.look(d.mm(float64(d.box.Min.X+i)+0.5, float64(d.box.Min.Y+j)+0.5))
		}
	})
	rows(d.box.Dy(), func(j int) {
		for i := range wide {
			c := &d.dots[j*wide+i]
			x, y := d.box.Min.X+i, d.box.Min.Y+j
			switch {
			case d.edge(i, j):
				sum, behind := RGB{}, d.get(x, y)
				add := func(s *dot) {
					if s.class == ClassGround {
						sum = sum.add(behind)
					} else {
						sum = sum.add(s.body).add(s.glare)
					}
				}
				add(c)
				for _, at := range quincunx {
					s := d.look(d.mm(float64(x)+at[0], float64(y)+at[1]))
					add(&s)
				}
				d.set(x, y, sum.scale(1/float64(1+len(quincunx))))
			case c.class != ClassGround:
				d.set(x, y, c.body.add(c.glare))
			}
		}
	})
	d.truth.record(d)
}

// quincunx is where, besides its middle, a pixel on an edge is looked at: no two
// in one row or column, to serve edges of any direction.
var quincunx = [4][2]float64{{0.1, 0.3}, {0.7, 0.1}, {0.9, 0.7}, {0.3, 0.9}}

// edge says whether the pixel needs more than one ray: a neighbour belongs to
// something else, lies much deeper or faces elsewhere.
func (d *drawing) edge(i, j int) bool {
	wide, high := d.box.Dx(), d.box.Dy()
	c := &d.dots[j*wide+i]
	for v := max(j-1, 0); v <= min(j+1, high-1); v++ {
		for u := max(i-1, 0); u <= min(i+1, wide-1); u++ {
			n := &d.dots[v*wide+u]
			if (n.class == ClassGround) != (c.class == ClassGround) || c.class != ClassGround && (n.part != c.part || math.Abs(n.z-c.z) > 6*d.perPx || math.Abs(n.viewing-c.viewing) > 15) {
				return true
			}
		}
	}
	return false
}

// rows runs do for 0 to n−1 on all cores.
func rows(n int, do func(int)) {
	var wait sync.WaitGroup
	cores := runtime.GOMAXPROCS(0)
	for part := range cores {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := part; i < n; i += cores {
				do(i)
			}
		}()
	}
	wait.Wait()
}

func (f *frame) eachRow(do func(y int)) { rows(f.h, do) }

// look sends a ray down at a place of the card and shades what it meets.
func (d *drawing) look(x, y float64) dot {
	m := d.model
	head, okHead := m.hitHead(x, y)
	wire, okWire := m.hitWire(x, y)
	switch {
	case !okHead && !okWire:
		return dot{}
	case okWire && (!okHead || wire.z > head.z):
		return d.shadeWire(wire, x, y)
	}
	return d.shadeHead(head, x, y)
}

func (d *drawing) shadeHead(h hit, x, y float64) dot {
	m := d.model
	c := dot{hit: h, class: 1}
	plain := m.headNormal(h.p)
	c.viewing = math.Acos(clamp(plain.z, -1, 1)) * 180 / math.Pi
	n := plain
	if m.relief(h.p) != 0 {
		n = m.toWorld(slope(m.headDistance, h.p)).unit()
	}
	tilt, open := m.micro(h.p)
	n = n.sub(m.toWorld(tilt)).unit()
	if n.z < 0.01 {
		n = n.plus(0.01-n.z, vec{0, 0, 1}).unit()
	}
	s := d.shades[0].at(m.toPhoto(h.p), plain)
	s.above, s.below, s.lamp = s.above*open, s.below*open, s.lamp*open
	c.opacity, c.based = m.opacity(h.p)
	if c.opacity < 0.5 {
		c.class = 2
	}
	coat, coatGlare := d.shade(m.coat, n, h.p, s, x, y)
	c.body, c.glare = coat, coatGlare
	if c.opacity < 0.999 {
		under := m.lead
		if c.based {
			under = m.base
		}
		base, baseGlare := d.shade(under, n, h.p, s, x, y)
		c.body, c.glare = base.mix(coat, c.opacity), baseGlare.mix(coatGlare, c.opacity)
	}
	for _, k := range m.specks {
		if cover := clamp(0.5+(k.WidthMM/2-h.p.sub(k.at).len())/d.perPx, 0, 1); cover > 0 {
			speck, _ := d.shade(m.lint, n, h.p, s, x, y)
			c.body, c.glare = c.body.mix(speck, cover), c.glare.scale(1-cover)
		}
	}
	return c
}

func (d *drawing) shadeWire(h hit, x, y float64) dot {
	m := d.model
	c := dot{hit: h, class: 3}
	n := m.wireNormal(h.p)
	if n.z < 0.01 {
		n = n.plus(0.01-n.z, vec{0, 0, 1}).unit()
	}
	skin := m.steel
	if h.part == eyeFilm || h.part == shank && m.hook.painted(h.p) {
		skin = m.coat
	}
	c.body, c.glare = d.shade(skin, n, h.p, d.shades[1].at(m.toPhoto(h.p), n), x, y)
	return c
}

// shade is a finish with normal n, lit at a place of the photo.
func (d *drawing) shade(f *finish, n, p vec, s shade, x, y float64) (body, glare RGB) {
	view := vec{0, 0, 1}
	domeFall, lampFall := d.light.fallOff(x, y)
	dome, lamp := d.light.dome.scale(domeFall), d.light.lamp.scale(lampFall*s.lamp)
	fromGround := dome.add(d.light.lamp.scale(lampFall)).mul(d.ground.around).scale(s.below)
	dome = dome.scale(s.above)

	// single flakes: each place has its own tilt and brightness
	leaf, bright := n, 1.0
	if f.coat.Sparkle > 0 {
		cell := max(f.coat.FlakeMM, d.perPx)
		g := grain(d.model.seed, p, cell)
		strength := f.coat.Sparkle * f.coat.FlakeMM / cell
		leaf = n.plus(2*strength*f.slope, d.model.toWorld(g)).unit()
		if leaf.z < 0.01 {
			leaf = n
		}
		bright = 1 + 0.5*strength*g.x
	}
	body = dome.mul(at(&f.above, leaf.z)).add(fromGround.mul(at(&f.below, leaf.z)))
	if len(d.light.rays) > 0 && s.lamp > 0 {
		var lit RGB
		paint, flakes := f.pigment(n.z), f.seen(leaf)
		for _, r := range d.light.rays {
			nl := n.dot(r.to)
			if nl <= 0 {
				continue
			}
			c := paint.scale(nl)
			if f.coat.FlakeShare > 0 {
				c = c.add(flakes.lobe(r.to))
			}
			lit = lit.add(c.scale(r.strength))
		}
		body = body.add(lit.mul(lamp))
	}
	body = body.scale(bright)
	if f.glossy() {
		glare = dome.scale(at1(&f.glareUp, n.z)).add(fromGround.scale(at1(&f.glareDn, n.z)))
		if s.lamp > 0 && len(d.light.rays) > 0 {
			mirror := n.mul(2 * n.z).sub(view)
			glare = glare.add(lamp.scale(fresnel(n.z, f.index) * d.light.mirrored(mirror, f.coat.GlossDeg)))
		}
	}
	return body, glare
}
