package scene

import (
	"image"
	"math"
	"sync"
)

// rod is a round bar with round ends from a to b: what casts shadows.
type rod struct {
	a, b vec
	r    float64
}

// castShadow is how much of the dome and of the lamp the pieces leave on the
// ground, on a grid of cells.
type castShadow struct {
	x0, y0, cell float64
	w, h         int
	dome, lamp   []float32
}

// shadowCellMM is the grid of the shadow on the card; finer than the shadow of
// anything it has to show.
const shadowCellMM = 0.1

// newCastShadow adds up, direction by direction, what the rods' parallel
// projection onto the card covers.
func newCastShadow(rods []rod, l *lamps, f *frame) *castShadow {
	c := &castShadow{cell: max(shadowCellMM, 1.5*f.perPx)}
	const reach = 14 // mm beyond the pieces; longer shadows have faded
	low, high := vec{1e9, 1e9, 0}, vec{-1e9, -1e9, 0}
	for _, r := range rods {
		for _, p := range []vec{r.a, r.b} {
			low.x, low.y = min(low.x, p.x-reach), min(low.y, p.y-reach)
			high.x, high.y = max(high.x, p.x+reach), max(high.y, p.y+reach)
		}
	}
	left, top := f.mm(0, 0)
	right, bottom := f.mm(float64(f.w), float64(f.h))
	low.x, low.y = max(low.x, left-2), max(low.y, top-2)
	high.x, high.y = min(high.x, right+2), min(high.y, bottom+2)
	if high.x <= low.x || high.y <= low.y {
		return c
	}
	c.x0, c.y0 = low.x, low.y
	c.w, c.h = int((high.x-low.x)/c.cell)+2, int((high.y-low.y)/c.cell)+2

	const domeRays = 160
	var dome []ray
	for i := range domeRays {
		u, v := fibonacci(i, domeRays)
		s, co := math.Sincos(2 * math.Pi * v)
		dome = append(dome, ray{vec{math.Sqrt(u) * co, math.Sqrt(u) * s, math.Sqrt(1 - u)}, 1.0 / domeRays})
	}
	c.dome = c.open(rods, dome)
	var lamp []ray
	for _, r := range l.split(12) {
		lamp = append(lamp, ray{r.to, r.strength * r.to.z})
	}
	c.lamp = c.open(rods, lamp)
	return c
}

// open is the share of the rays, by strength, that reach each cell. The work is
// cut in a fixed number of parts so that the sums never depend on the cores.
func (c *castShadow) open(rods []rod, rays []ray) []float32 {
	const parts = 4
	var sums [parts][]float32
	var wait sync.WaitGroup
	for part := range parts {
		wait.Add(1)
		go func() {
			defer wait.Done()
			sum, hit := make([]float32, c.w*c.h), make([]float32, c.w*c.h)
			for i := part; i < len(rays); i += parts {
				c.project(rods, rays[i], sum, hit)
			}
			sums[part] = sum
		}()
	}
	wait.Wait()
	open := make([]float32, c.w*c.h)
	for i := range open {
		open[i] = 1
		for part := range parts {
			open[i] -= sums[part][i]
		}
	}
	return open
}

func (c *castShadow) project(rods []rod, r ray, sum, hit []float32) {
	e1, e2 := across(r.to)
	all := image.Rectangle{}
	for _, rod := range rods {
		a := rod.a.plus(-rod.a.z/r.to.z, r.to)
		b := rod.b.plus(-rod.b.z/r.to.z, r.to)
		wide := rod.r/r.to.z + c.cell
		box := image.Rect(
			int((min(a.x, b.x)-wide-c.x0)/c.cell), int((min(a.y, b.y)-wide-c.y0)/c.cell),
			int((max(a.x, b.x)+wide-c.x0)/c.cell)+2, int((max(a.y, b.y)+wide-c.y0)/c.cell)+2,
		).Intersect(image.Rect(0, 0, c.w, c.h))
		if box.Empty() {
			continue
		}
		all = all.Union(box)
		// distances across the ray, where the rod is a flat bar
		au, av, bu, bv := rod.a.dot(e1), rod.a.dot(e2), rod.b.dot(e1), rod.b.dot(e2)
		du, dv := bu-au, bv-av
		per := 0.0
		if long := du*du + dv*dv; long > 1e-9 {
			per = 1 / long
		}
		reach := rod.r + c.cell/2
		for y := box.Min.Y; y < box.Max.Y; y++ {
			py := c.y0 + float64(y)*c.cell
			for x := box.Min.X; x < box.Max.X; x++ {
				px := c.x0 + float64(x)*c.cell
				u, v := px*e1.x+py*e1.y-au, px*e2.x+py*e2.y-av
				t := (u*du + v*dv) * per
				if t < 0 {
					t = 0
				} else if t > 1 {
					t = 1
				}
				u, v = u-t*du, v-t*dv
				d2 := u*u + v*v
				if d2 >= reach*reach {
					continue
				}
				cover := float32(min(1, 0.5+(rod.r-math.Sqrt(d2))/c.cell))
				if i := y*c.w + x; cover > hit[i] {
					hit[i] = cover
				}
			}
		}
	}
	for y := all.Min.Y; y < all.Max.Y; y++ {
		for i := y*c.w + all.Min.X; i < y*c.w+all.Max.X; i++ {
			sum[i] += hit[i] * float32(r.strength)
			hit[i] = 0
		}
	}
}

// at is the open share of dome and lamp at a place.
func (c *castShadow) at(x, y float64) (dome, lamp float64) {
	u, v := (x-c.x0)/c.cell, (y-c.y0)/c.cell
	i, j := int(u), int(v)
	if u < 0 || v < 0 || i >= c.w-1 || j >= c.h-1 {
		return 1, 1
	}
	u, v = u-float64(i), v-float64(j)
	k := j*c.w + i
	blend := func(t []float32) float64 {
		return (float64(t[k])*(1-u)+float64(t[k+1])*u)*(1-v) + (float64(t[k+c.w])*(1-u)+float64(t[k+c.w+1])*u)*v
	}
	return blend(c.dome), blend(c.lamp)
}

// light is the irradiance on the ground at a place, shadows and all.
func (c *castShadow) light(l *lamps, x, y float64) RGB {
	domeOpen, lampOpen := c.at(x, y)
	dome, lamp := l.fallOff(x, y)
	return l.dome.scale(dome * domeOpen).add(l.lamp.scale(lamp * lampOpen))
}

// shade is how much of the dome, of what is below and of the lamp a place sees.
type shade struct{ above, below, lamp float64 }

// occluded is how far the rods block the ray from p towards d, 0 to 1, softened
// over softMM to spare samples.
func occluded(rods []rod, p, d vec, softMM float64) float64 {
	worst := 0.0
	for i := range rods {
		r := &rods[i]
		// closest approach of the ray to the rod's axis, looking along the ray
		ab, w := r.b.sub(r.a), r.a.sub(p)
		alongAB, alongW := ab.dot(d), w.dot(d)
		flatAB := ab.dot(ab) - alongAB*alongAB
		flatABW := ab.dot(w) - alongAB*alongW
		t := 0.0
		if flatAB > 1e-9 {
			t = clamp(-flatABW/flatAB, 0, 1)
		}
		if alongW+t*alongAB <= 0 {
			continue
		}
		d2 := w.dot(w) - alongW*alongW + 2*t*flatABW + t*t*flatAB
		reach := r.r + softMM/2
		if d2 >= reach*reach {
			continue
		}
		worst = max(worst, clamp(0.5+(r.r-math.Sqrt(max(d2, 0)))/softMM, 0, 1))
		if worst == 1 {
			break
		}
	}
	return worst
}

// shadeMap is the shade on one layer of a piece, its head or its wire, on a grid
// of cells in the photo.
type shadeMap struct {
	x0, y0, cell float64
	w, h         int
	cells        []shadeCell
	here         func(p, n vec) shade // the slow way
}

// shadeCell is the shade of the surface that faces n at the height z.
type shadeCell struct {
	shade
	n     vec
	z     float64
	known bool
}

// shadeCellMM is fine enough for the soft shadows of wire and collar.
const shadeCellMM = 0.16

func (d *drawing) newShadeMap(hits func(x, y float64) (hit, bool), normal func(vec) vec) *shadeMap {
	s := &shadeMap{cell: shadeCellMM}
	x0, y0 := d.mm(float64(d.box.Min.X), float64(d.box.Min.Y))
	s.x0, s.y0 = x0-s.cell, y0-s.cell
	s.w = int(float64(d.box.Dx())*d.perPx/s.cell) + 4
	s.h = int(float64(d.box.Dy())*d.perPx/s.cell) + 4
	s.cells = make([]shadeCell, s.w*s.h)
	lampRays := d.light.split(4)
	s.here = func(p, n vec) shade { return shadeAt(p, n, d.rods, lampRays, d.light, d.cast) }
	rows(s.h, func(j int) {
		for i := range s.w {
			if at, ok := hits(s.x0+float64(i)*s.cell, s.y0+float64(j)*s.cell); ok {
				n := normal(at.p)
				s.cells[j*s.w+i] = shadeCell{s.here(d.model.toPhoto(at.p), n), n, at.z, true}
			}
		}
	})
	return s
}

// at is the shade of a surface through p facing n: blended between the cells
// that show the same surface or, where none does, found the slow way.
func (s *shadeMap) at(p, n vec) shade {
	u, v := (p.x-s.x0)/s.cell, (p.y-s.y0)/s.cell
	i, j := int(u), int(v)
	if u < 0 || v < 0 || i >= s.w-1 || j >= s.h-1 {
		return s.here(p, n)
	}
	u, v = u-float64(i), v-float64(j)
	var sum shade
	weight := 0.0
	for c := range 4 {
		k := &s.cells[(j+c/2)*s.w+i+c%2]
		if !k.known || k.n.dot(n) < 0.7 || math.Abs(k.z-p.z) > 6*s.cell {
			continue
		}
		w := pick(int64(c%2), u)*pick(int64(c/2), v) + 1e-6
		sum = shade{sum.above + w*k.above, sum.below + w*k.below, sum.lamp + w*k.lamp}
		weight += w
	}
	if weight == 0 {
		return s.here(p, n)
	}
	return shade{sum.above / weight, sum.below / weight, sum.lamp / weight}
}

// shadeAt looks around from a place p with normal n.
func shadeAt(p, n vec, rods []rod, lampRays []ray, l *lamps, cast *castShadow) shade {
	const soft, looks = 0.16, 48
	p = p.plus(0.12, n)
	t1, t2 := across(n)
	var up, upOpen, down, downOpen float64
	for i := range looks {
		u, v := fibonacci(i, looks)
		sin, cos := math.Sincos(2 * math.Pi * v)
		d := t1.mul(math.Sqrt(u)*cos).plus(math.Sqrt(u)*sin, t2).plus(math.Sqrt(1-u), n)
		open := 1 - occluded(rods, p, d, soft)
		if d.z >= 0 {
			up++
			upOpen += open
			continue
		}
		down++
		if open > 0 {
			q := p.plus(-p.z/d.z, d)
			dome, lamp := cast.at(q.x, q.y)
			downOpen += open * (dome*(1-l.LampShare) + lamp*l.LampShare)
		}
	}
	s := shade{1, 1, 1}
	if up > 0 {
		s.above = upOpen / up
	}
	if down > 0 {
		s.below = downOpen / down
	}
	var all, reach float64
	for _, r := range lampRays {
		if w := n.dot(r.to); w > 0 {
			all += w
			reach += w * (1 - occluded(rods, p, r.to, soft))
		}
	}
	if all > 0 {
		s.lamp = reach / all
	}
	return s
}
