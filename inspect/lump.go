package inspect

import (
	"cmp"
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// relit says how a head's own paint looks at every tilt of its surface, and how
// far each place departs from that: what a lump is recognised by. The light is
// far away compared with the head, so the same tilt looks the same everywhere:
// a lump tilts the surface, and its flanks look like those places of the head
// that are tilted as they are.
type relit struct {
	w, h int
	cell float64                   // mm
	px   int                       // patch px per cell
	at   []surface                 // per cell
	tone [tilts * tilts][3]float32 // what is expected at a tilt, by nx and ny
}

// surface is what is known of one cell.
type surface struct {
	on       bool
	z        float64    // mm towards the camera
	n        [3]float64 // unit normal, z towards the camera
	want     [3]float32 // tone expected at that tilt
	residual [3]float32 // tone minus what the coat should show
}

const (
	tilts  = 49   // of the grid in each direction, odd
	cellMM = 0.08 // a lump of a millimetre is a dozen cells wide
)

// relight averages the head into cells and learns the tone at each tilt.
func (f *film) relight() (*relit, error) {
	l, s := f.look, f.look.shape
	height, err := f.heights()
	if err != nil {
		return nil, err
	}
	r := &relit{px: max(1, int(math.Round(cellMM/f.mm)))}
	r.cell = float64(r.px) * f.mm
	r.w, r.h = s.w/r.px, s.h/r.px
	r.at = make([]surface, r.w*r.h)
	sum, weight := [3]cv.Plane{}, cv.NewPlane(tilts, tilts)
	for k := range sum {
		sum[k] = cv.NewPlane(tilts, tilts)
	}
	for y := range r.h {
		for x := range r.w {
			c := &r.at[y*r.w+x]
			i := (y*r.px+r.px/2)*s.w + x*r.px + r.px/2
			if s.depth.Pix[i] < float32(2*r.px+2) || f.notCoat[i] || height.Pix[i] <= 0 || l.onCollar(i) {
				continue
			}
			dx := float64(height.Pix[i+r.px]-height.Pix[i-r.px]) / float64(2*r.px)
			dy := float64(height.Pix[i+r.px*s.w]-height.Pix[i-r.px*s.w]) / float64(2*r.px)
			long := math.Sqrt(1 + dx*dx + dy*dy)
			c.on = true
			c.z = float64(height.Pix[i]) * f.mm
			c.n = [3]float64{-dx / long, -dy / long, 1 / long}
			var n float32
			var want [3]float32
			for v := range r.px {
				for u := range r.px {
					j := (y*r.px+v)*s.w + x*r.px + u
					if s.head.Pix[j] == 0 {
						continue
					}
					n++
					for k := range want {
						want[k] += f.coat.expected[k].Pix[j]
						c.residual[k] += f.coat.residual[k].Pix[j]
					}
				}
			}
			j := tilt(c.n[1])*tilts + tilt(c.n[0])
			weight.Pix[j]++
			for k := range want {
				c.residual[k] /= n
				sum[k].Pix[j] += want[k] / n
			}
		}
	}
	return r, r.spread(sum, weight)
}

func tilt(n float64) int { return int(math.Round((n + 1) / 2 * (tilts - 1))) }

// spread fills the gaps between the tilts that the head shows from their
// neighbours, near ones first.
func (r *relit) spread(sum [3]cv.Plane, weight cv.Plane) error {
	for _, sigma := range [4]float64{0.8, 1.6, 3.2, 6.4} {
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
	for i := range r.at {
		if c := &r.at[i]; c.on {
			c.want = r.look(c.n[0], c.n[1])
		}
	}
	return nil
}

// look is the tone at a tilt, between the grid's.
func (r *relit) look(nx, ny float64) [3]float32 {
	u, v := (nx+1)/2*(tilts-1), (ny+1)/2*(tilts-1)
	x, y := min(max(int(u), 0), tilts-2), min(max(int(v), 0), tilts-2)
	a, b := float32(u-float64(x)), float32(v-float64(y))
	j := y*tilts + x
	var out [3]float32
	for k := range out {
		top := r.tone[j][k] + a*(r.tone[j+1][k]-r.tone[j][k])
		low := r.tone[j+tilts][k] + a*(r.tone[j+tilts+1][k]-r.tone[j+tilts][k])
		out[k] = top + b*(low-top)
	}
	return out
}

// heights is the body's surface over the plane of its axis, px: that of a body
// of revolution with its outline. 0 off the body.
func (f *film) heights() (cv.Plane, error) {
	l, s := f.look, f.look.shape
	body := image.NewGray(s.head.Rect)
	for i, v := range s.head.Pix {
		if v != 0 && !l.onCollar(i) {
			body.Pix[i] = 255
		}
	}
	z := cv.NewPlane(s.w, s.h)
	lo, hi := extents(body, l.axis)
	for i, v := range body.Pix {
		if v == 0 {
			continue
		}
		x, y := float64(i%s.w), float64(i/s.w)
		k := int(math.Round(l.axis.along(x, y)))
		if t := l.axis.across(x, y); t > lo[k] && t < hi[k] {
			z.Pix[i] = float32(math.Sqrt((t - lo[k]) * (hi[k] - t)))
		}
	}
	smooth, err := cv.Gaussian(z, 0.06*s.radius)
	if err != nil {
		return cv.Plane{}, err
	}
	for i, v := range body.Pix {
		if v == 0 {
			smooth.Pix[i] = 0
		}
	}
	return smooth, nil
}

// swelling is a round rise (or, with a height below 0, a hollow) of the surface,
// h·(1 − t²)², t from 0 in its middle to 1 at its foot.
type swelling struct {
	x, y   float64 // cells
	wide   float64 // mm across the foot
	height float64 // mm
	flat   bool    // a hollow with a flat floor: the rise is a narrow rim
}

// misfit is what a swelling leaves of the residual's variance at its place and
// around it, and what there was to explain: sums of squares about the plane that
// fits best, since a slow change of the light is no lump's.
//
// The place is that of over, which may be another swelling.
func (r *relit) misfit(b, over swelling) (left, all float64, n int) {
	reach := around / 2 * over.wide / r.cell
	stride := max(1, int(reach/11))
	c, o := &r.at[b.index(r)], &r.at[over.index(r)]
	var place plane
	var rest, given [3]plane
	for y := max(0, int(over.y-reach)); y <= min(r.h-1, int(over.y+reach)); y += stride {
		for x := max(0, int(over.x-reach)); x <= min(r.w-1, int(over.x+reach)); x += stride {
			q := &r.at[y*r.w+x]
			if !q.on {
				continue
			}
			if _, away := q.offset(o, float64(x)-over.x, float64(y)-over.y, r.cell); away > around/2*over.wide {
				continue
			}
			n++
			u, v := float64(x)-b.x, float64(y)-b.y
			d, away := q.offset(c, u, v, r.cell)
			e := q.residual
			if slope := b.slope(away / (b.wide / 2)); slope != 0 && away > 1e-9 {
				slope /= away
				v := [3]float64{q.n[0] + slope*d[0], q.n[1] + slope*d[1], q.n[2] + slope*d[2]}
				long := math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2])
				if v[2] < 0 {
					long = math.Hypot(v[0], v[1])
				}
				got := r.look(v[0]/long, v[1]/long)
				for k := range e {
					e[k] -= got[k] - q.want[k]
				}
			}
			place.add(1, u, v)
			place.uu, place.uv, place.vv = place.uu+u*u, place.uv+u*v, place.vv+v*v
			for k := range e {
				rest[k].add(float64(e[k]), u, v)
				given[k].add(float64(q.residual[k]), u, v)
			}
		}
	}
	for k := range rest {
		left += rest[k].beside(place)
		all += given[k].beside(place)
	}
	return left, all, n
}

// offset is the way from another place along the surface there, u and v cells
// across the photo, and its length, mm.
func (q *surface) offset(from *surface, u, v, cell float64) (d [3]float64, away float64) {
	d = [3]float64{u * cell, v * cell, q.z - from.z}
	up := d[0]*from.n[0] + d[1]*from.n[1] + d[2]*from.n[2]
	for k := range d {
		d[k] -= up * from.n[k]
		away += d[k] * d[k]
	}
	return d, math.Sqrt(away)
}

// around is how far about a swelling the surface is looked at, in units of half
// its width: beyond its foot the head must be as it should.
const around = 1.5

// plane sums up values over places, to fit a plane.
type plane struct {
	sum, u, v, square float64 // of the values: alone, times the place's coordinates, squared
	uu, uv, vv        float64
}

func (p *plane) add(value, u, v float64) {
	p.sum, p.u, p.v, p.square = p.sum+value, p.u+value*u, p.v+value*v, p.square+value*value
}

// beside is the sum of squares about the best plane; place holds the sums of
// the places.
func (p plane) beside(place plane) float64 {
	n := place.sum
	if n < 10 {
		return 0
	}
	uu, uv, vv := place.uu-place.u*place.u/n, place.uv-place.u*place.v/n, place.vv-place.v*place.v/n
	eu, ev := p.u-p.sum*place.u/n, p.v-p.sum*place.v/n
	det := uu*vv - uv*uv
	if det < 1e-9 {
		return 0
	}
	return max(0, p.square-p.sum*p.sum/n-(eu*eu*vv-2*eu*ev*uv+ev*ev*uu)/det)
}

// slope is how steeply the swelling falls outwards.
func (b swelling) slope(t float64) float64 {
	if b.flat {
		const rim = 0.12 // mm, half the width of a socket's wall
		w := (t - 0.9) * b.wide / 2 / rim
		if w < -1 || w > 1 {
			return 0
		}
		return b.height / rim * (1 - w*w) * 0.75
	}
	if t >= 1 {
		return 0
	}
	return 4 * b.height * t * (1 - t*t) / (b.wide / 2)
}

// measureLumps finds round rises on the face by their shading, those that the
// outline does not show already.
func (f *film) measureLumps(r *Relief, known []ReliefFault) ([]ReliefFault, error) {
	e, err := f.relight()
	if err != nil {
		return nil, err
	}
	faults := []ReliefFault{}
	for _, c := range e.candidates() {
		b, ok := e.believe(c)
		if !ok {
			continue
		}
		at := f.look.toPhoto((b.x+0.5)*float64(e.px), (b.y+0.5)*float64(e.px))
		fault := ReliefFault{Kind: "lump", X: at.X, Y: at.Y, Place: "on the face", Confidence: b.share}
		f.size(&fault, b.wide, b.height, e.doubt(b))
		same := func(g ReliefFault) bool {
			return math.Hypot(g.X-fault.X, g.Y-fault.Y) < (g.DiameterPx+fault.DiameterPx)/2
		}
		if !slices.ContainsFunc(faults, same) && !slices.ContainsFunc(known, same) {
			faults = append(faults, fault)
		}
	}
	n := len(faults)
	r.Lumps = &n
	for _, g := range faults {
		r.LumpHeightMM = larger(r.LumpHeightMM, g.HeightMM)
	}
	return faults, nil
}

// found is a swelling with the share of the residual's variance it explains.
type found struct {
	swelling
	share float64
}

const (
	// leastShare of what is odd about a place must be explained by a lump there:
	// more than by everything else together.
	leastShare = 0.5
	// mostAspect is the largest height of a lump as a share of its width: its flank
	// then slopes by half a right angle, and paint that soft would have run.
	mostAspect = 0.4
	// rivalry is how much worse than a lump everything else must explain a place.
	rivalry = 1.15
	// steepestView is the cosine of the viewing angle, 65°, beyond which a lump
	// is the outline's business.
	steepestView = 0.42
)

// believe refines a candidate and holds it against what else could look so: a
// hollow beside it, round or with a flat floor.
func (r *relit) believe(c found) (found, bool) {
	b := r.refine(c)
	if b.share < leastShare || b.height < believedMM || b.height > mostAspect*b.wide || r.at[b.index(r)].n[2] < steepestView {
		return b, false
	}
	aside := b.wide / 2 / r.cell
	for _, by := range [5][2]float64{{0, 0}, {aside, 0}, {-aside, 0}, {0, aside}, {0, -aside}} {
		for _, flat := range [2]bool{false, true} {
			h := swelling{b.x + by[0], b.y + by[1], b.wide, -b.height, flat}
			if !r.holds(h) {
				continue
			}
			rival := r.refine(found{swelling: h})
			ours, _, _ := r.misfit(b.swelling, b.swelling)
			theirs, _, _ := r.misfit(rival.swelling, b.swelling)
			if theirs < rivalry*ours {
				return b, false
			}
		}
	}
	return b, true
}

func (b swelling) index(r *relit) int { return int(b.y+0.5)*r.w + int(b.x+0.5) }

// holds tells whether a swelling's middle is on the head.
func (r *relit) holds(b swelling) bool {
	return b.x >= 1 && b.y >= 1 && b.x <= float64(r.w-2) && b.y <= float64(r.h-2) && r.at[b.index(r)].on
}

// candidates are the places where a swelling explains much of the residual, the
// best first, none within another.
func (r *relit) candidates() []found {
	var all []found
	step := max(2, int(0.25/r.cell))
	for y := step; y < r.h-step; y += step {
		for x := step; x < r.w-step; x += step {
			if c := r.at[y*r.w+x]; !c.on || c.n[2] < steepestView {
				continue
			}
			best := found{}
			for _, wide := range [5]float64{1, 1.4, 2, 2.8, 4} {
				for _, ratio := range [3]float64{0.1, 0.18, 0.28} {
					b := swelling{float64(x), float64(y), wide, ratio * wide, false}
					left, all, n := r.misfit(b, b)
					if share := 1 - left/max(all, 1e-9); n >= 60 && share > best.share {
						best = found{b, share}
					}
				}
			}
			if best.share > leastShare/2 {
				all = append(all, best)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(b.share, a.share) })
	var kept []found
	for _, c := range all {
		if !slices.ContainsFunc(kept, func(k found) bool { return math.Hypot(c.x-k.x, c.y-k.y)*r.cell < 0.5 }) {
			kept = append(kept, c)
		}
	}
	return kept[:min(len(kept), 20)]
}

// refine moves a swelling to where it explains most.
func (r *relit) refine(c found) found {
	explained := func(b swelling) float64 {
		left, all, n := r.misfit(b, b)
		if n < 40 {
			return -1
		}
		return 1 - left/max(all, 1e-9)
	}
	best := found{c.swelling, explained(c.swelling)}
	for _, step := range [4]float64{1, 0.5, 0.25, 0.1} {
		for again := true; again; {
			again = false
			b := best.swelling
			for _, m := range [8]swelling{
				{b.x + 3*step, b.y, b.wide, b.height, b.flat}, {b.x - 3*step, b.y, b.wide, b.height, b.flat},
				{b.x, b.y + 3*step, b.wide, b.height, b.flat}, {b.x, b.y - 3*step, b.wide, b.height, b.flat},
				{b.x, b.y, b.wide * (1 + 0.4*step), b.height, b.flat}, {b.x, b.y, b.wide / (1 + 0.4*step), b.height, b.flat},
				{b.x, b.y, b.wide, b.height * (1 + 0.4*step), b.flat}, {b.x, b.y, b.wide, b.height / (1 + 0.4*step), b.flat},
			} {
				if !r.holds(m) || m.wide < 0.8 || m.wide > 5 {
					continue
				}
				if s := explained(m); s > best.share+1e-4 {
					best, again = found{m, s}, true
				}
			}
		}
	}
	return best
}

// doubt is the standard uncertainty of a height, mm: from how sharply the misfit
// rises about it, with one independent look per 0.2 mm square, and from the
// light being farther and the head rounder than they are, a sixth; see
// TestLumpsComeBack.
func (r *relit) doubt(b found) float64 {
	left, _, n := r.misfit(b.swelling, b.swelling)
	other := b.swelling
	other.height *= 1.25
	more, _, _ := r.misfit(other, other)
	looks := max(1, float64(n)*sq(r.cell/0.2))
	random := 0.25 * b.height / math.Sqrt(looks*max(more/max(left, 1e-9)-1, 1e-3))
	return math.Hypot(min(random, b.height), b.height/6)
}
