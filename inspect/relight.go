package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// relit says how a head's own paint looks at every tilt of its surface, and how
// far each place departs from that: what a lump is recognised by. The light is
// far away compared with the head, so the same tilt looks the same everywhere:
// a lump tilts the surface, and its flanks look like those places of the head
// that are tilted as they are.
type relit struct {
	w, h int
	cell float64 // mm
	px   int     // patch px per cell
	flat bool    // the head is, see look.flatten
	at   []surface
	odd  []odd
	ring [ringSteps + 1][3]float32 // the coat's tone by the cosine of the viewing angle
	tone [tilts * tilts][3]float32 // what is expected at a tilt beyond ring, by nx and ny
	last *site                     // see siteOf
	eye  cv.Plane                  // distance to the eye where it hides the head, cells; empty where it doesn't
	// A swelling is held against the head without its place: a lamp's mirror image in
	// its flank counts, since tilts that mirror the lamp elsewhere are known to.
	tried bool
}

// surface is what is known of one cell.
type surface struct {
	on    bool       // of the body, and coat
	glare bool       // in the lamp's own mirror image
	z     float64    // mm towards the camera
	n     vec        // unit normal, z towards the camera
	seen  [3]float32 // tone
}

// vec is a vector, mm or of unit length. A struct of three stays in registers where
// an array does not.
type vec struct{ x, y, z float64 }

// odd is how a cell departs from what is expected of it.
type odd struct {
	want     [3]float32 // tone expected at that tilt
	residual [3]float32 // tone minus what it should be there
}

const (
	tilts     = 49 // of the grid in each direction, odd
	ringSteps = 128
	cellMM    = 0.08 // a lump of a millimetre is a dozen cells wide
)

// relight averages the head into cells and learns the tone at each tilt.
func (f *film) relight() (*relit, error) {
	l, s := f.look, f.look.shape
	height := f.heights()
	r := &relit{px: max(1, int(math.Round(cellMM/f.mm))), flat: l.contour.flat()}
	r.cell = float64(r.px) * f.mm
	r.w, r.h = s.w/r.px, s.h/r.px
	r.at = make([]surface, r.w*r.h)
	for y := range r.h {
		for x := range r.w {
			c := &r.at[y*r.w+x]
			i := (y*r.px+r.px/2)*s.w + x*r.px + r.px/2
			if s.depth.Pix[i] < float32(2*r.px+2) || height.Pix[i] <= 0 || l.onCollar(i) || f.notCoat[i] {
				continue
			}
			dx := float64(height.Pix[i+r.px]-height.Pix[i-r.px]) / float64(2*r.px)
			dy := float64(height.Pix[i+r.px*s.w]-height.Pix[i-r.px*s.w]) / float64(2*r.px)
			long := math.Sqrt(1 + dx*dx + dy*dy)
			c.on = true
			c.z = float64(height.Pix[i]) * f.mm
			c.n = vec{-dx / long, -dy / long, 1 / long}
			var n float32
			for v := range r.px {
				for u := range r.px {
					j := (y*r.px+v)*s.w + x*r.px + u
					if s.head.Pix[j] == 0 {
						continue
					}
					n++
					for k := range c.seen {
						c.seen[k] += l.tones.plane[k].Pix[j]
					}
				}
			}
			for k := range c.seen {
				c.seen[k] /= n
			}
		}
	}
	if len(l.behindEye) > 0 {
		off := image.NewGray(image.Rect(0, 0, r.w, r.h))
		for i := range off.Pix {
			off.Pix[i] = 255
		}
		for _, i := range l.behindEye {
			if q := image.Pt(i%s.w/r.px, i/s.w/r.px); q.In(off.Rect) {
				off.Pix[q.Y*r.w+q.X] = 0
			}
		}
		var err error
		if r.eye, err = cv.Distance(off); err != nil {
			return nil, err
		}
	}
	return r, r.learn()
}

// learn takes the tone at each tilt from the whole head, in two steps: by the
// viewing angle, then what the direction of the light adds.
func (r *relit) learn() error {
	seen, angle, use := make([]float32, len(r.at)), make([]float32, len(r.at)), make([]bool, len(r.at))
	for i := range r.at {
		c := &r.at[i]
		angle[i], use[i] = float32(math.Acos(min(c.n.z, 1))*180/math.Pi), c.on
	}
	for k := range 3 {
		for i := range r.at {
			seen[i] = r.at[i].seen[k]
		}
		classes := angleMedians(seen, angle, use)
		for j := range r.ring {
			r.ring[j][k] = atAngle(classes, math.Acos(float64(j)/ringSteps)*180/math.Pi)
		}
	}
	for range 3 {
		if err := r.spread(); err != nil {
			return err
		}
		if err := r.findGlare(); err != nil {
			return err
		}
	}
	return r.spread()
}

// slowTilt, in steps of the grid, is the standard deviation over which the light's
// direction may change the tone so that no lump is taken for it: at half its height
// that is a third of a right angle, more than the flanks of a lump span.
const slowTilt = 6.0

// departs is how far a cell's tone is from what its viewing angle alone gives.
func (r *relit) departs(c *surface) [3]float32 {
	red, green, blue := r.onRing(c.n.z)
	return [3]float32{c.seen[0] - red, c.seen[1] - green, c.seen[2] - blue}
}

// onRing is the coat's tone at the cosine of a viewing angle.
func (r *relit) onRing(cos float64) (red, green, blue float32) {
	at := cos * ringSteps
	j := min(int(at), ringSteps-1)
	f := float32(at - float64(j))
	p, q := &r.ring[j], &r.ring[j+1]
	return p[0] + f*(q[0]-p[0]), p[1] + f*(q[1]-p[1]), p[2] + f*(q[2]-p[2])
}

// findGlare marks the lamp's mirror image: the largest place that is much lighter
// than the coat in all colours, and others nearly as large, of a second lamp.
// A lump has one too, but a small one, for it is more curved than the head.
func (r *relit) findGlare() error {
	mask := image.NewGray(image.Rect(0, 0, r.w, r.h))
	for i := range r.at {
		if c := &r.at[i]; c.on {
			if r.mirrors(i) {
				mask.Pix[i] = 255
			}
		}
	}
	labels, blobs, err := cv.Blobs(mask)
	if err != nil {
		return err
	}
	most := 0
	for _, b := range blobs {
		most = max(most, b.Area)
	}
	for i, k := range labels {
		r.at[i].glare = k > 0 && 2*blobs[k-1].Area > most
	}
	return nil
}

// mirrors tells whether a cell is much lighter than the coat in all colours, as a lamp's
// mirror image is.
func (r *relit) mirrors(i int) bool {
	const lighter = 0.35 // log ratio, see coat.typical
	d := &r.odd[i].residual
	return min(d[0], d[1], d[2]) > lighter
}

// spread learns the slow change over the grid of tilts from all cells but glare;
// tilts far from all that the head shows take that of wider surroundings.
func (r *relit) spread() error {
	weight := cv.NewPlane(tilts, tilts)
	var sum [3]cv.Plane
	for k := range sum {
		sum[k] = cv.NewPlane(tilts, tilts)
	}
	for i := range r.at {
		if c := &r.at[i]; c.on && !c.glare {
			j := tilt(c.n.y)*tilts + tilt(c.n.x)
			weight.Pix[j]++
			for k, v := range r.departs(c) {
				sum[k].Pix[j] += v
			}
		}
	}
	r.tone = [tilts * tilts][3]float32{}
	for sigma := slowTilt; sigma < 2*tilts; sigma *= 2 {
		norm, err := cv.Gaussian(weight, sigma)
		if err != nil {
			return err
		}
		for k := range sum {
			mean, err := cv.Gaussian(sum[k], sigma)
			if err != nil {
				return err
			}
			for j := range r.tone {
				if r.tone[j][k] == 0 && norm.Pix[j] > 0.02 {
					r.tone[j][k] = mean.Pix[j] / norm.Pix[j]
				}
			}
		}
	}
	r.compare()
	return nil
}

// compare sets what is expected of each cell.
func (r *relit) compare() {
	r.odd = make([]odd, len(r.at))
	for i := range r.at {
		if c := &r.at[i]; c.on {
			o := &r.odd[i]
			o.want[0], o.want[1], o.want[2] = r.look(c.n)
			for k := range o.want {
				o.residual[k] = c.seen[k] - o.want[k]
			}
		}
	}
}

// without is what the head says without the place of a swelling: tilts that only
// that place has are filled from all around them, as a soap film would.
func (r *relit) without(b swelling) *relit {
	o := *r
	o.tried = true
	var n [tilts * tilts]float32
	o.tone = [tilts * tilts][3]float32{}
	from := &r.at[b.index(r)]
	for i := range r.at {
		c := &r.at[i]
		if !c.on {
			continue
		}
		if way := c.way(from, float64(i%r.w)-b.x, float64(i/r.w)-b.y, r.cell); way.square() < sq(leftOut/2*b.wide) && !c.glare {
			continue
		}
		j := tilt(c.n.y)*tilts + tilt(c.n.x)
		n[j]++
		for k, v := range r.departs(c) {
			o.tone[j][k] += v
		}
	}
	for j := range n {
		for k := range o.tone[j] {
			if n[j] > 0 {
				o.tone[j][k] /= n[j]
			} else {
				o.tone[j][k] = r.tone[j][k]
			}
		}
	}
	o.stretch(n[:])
	o.compare()
	return &o
}

// leftOut is how wide a place is left out, in widths of the swelling in it.
const leftOut = 1.2

// stretch fills the tilts that have no weight by successive over-relaxation of
// Laplace's equation.
func (r *relit) stretch(weight []float32) {
	const over, rounds = 1.7, 80
	var gaps []int
	for j, n := range weight {
		x, y := j%tilts, j/tilts
		if n == 0 && x > 0 && y > 0 && x < tilts-1 && y < tilts-1 {
			gaps = append(gaps, j)
		}
	}
	for range rounds {
		for _, j := range gaps {
			for k := range r.tone[j] {
				mean := (r.tone[j-1][k] + r.tone[j+1][k] + r.tone[j-tilts][k] + r.tone[j+tilts][k]) / 4
				r.tone[j][k] += over * (mean - r.tone[j][k])
			}
		}
	}
}

func tilt(n float64) int { return int(math.Round((n + 1) / 2 * (tilts - 1))) }

// look is the tone at a tilt, given by the unit normal, between the grid's.
func (r *relit) look(n vec) (red, green, blue float32) {
	u, v := (n.x+1)/2*(tilts-1), (n.y+1)/2*(tilts-1)
	x, y := min(max(int(u), 0), tilts-2), min(max(int(v), 0), tilts-2)
	a, b := float32(u-float64(x)), float32(v-float64(y))
	j := y*tilts + x
	o, p, q, s := &r.tone[j], &r.tone[j+1], &r.tone[j+tilts], &r.tone[j+tilts+1]
	red, green, blue = r.onRing(n.z)
	return mix(o[0], p[0], q[0], s[0], a, b) + red, mix(o[1], p[1], q[1], s[1], a, b) + green, mix(o[2], p[2], q[2], s[2], a, b) + blue
}

// mix is the value at a, b of [0, 1] between four.
func mix(o, right, below, both, a, b float32) float32 {
	top := o + a*(right-o)
	return top + b*(below+a*(both-below)-top)
}

// heights is the body's surface over the plane of its axis, px: that of the body of
// revolution whose contour it has, or of a flat head. 0 off the body.
func (f *film) heights() cv.Plane {
	l, s := f.look, f.look.shape
	z := cv.NewPlane(s.w, s.h)
	for i, v := range s.head.Pix {
		if v == 0 || l.onCollar(i) {
			continue
		}
		x, y := float64(i%s.w), float64(i/s.w)
		mid, square := l.contour.at(l.axis.along(x, y))
		if h := math.Sqrt(max(0, square-sq(l.axis.across(x, y)-mid))); h > 0 {
			h, _ = l.contour.flatten(h)
			z.Pix[i] = float32(h)
		}
	}
	return z
}
