package reports

import (
	"math"

	"jigloupe/inspect"
)

// A labeller puts labels beside what they name, off the head where there is
// room, clear of each other and of every fault, and ties each with a leader.
type labeller struct {
	d    *drawing
	unit float64         // 1 % of the drawing's long side
	head []inspect.Point // outline
	busy []disc          // faults that no label may hide
	used []box           // labels already there
}

type disc struct {
	c inspect.Point
	r float64
}

type box struct{ x, y, w, h float64 } // centre and size

func (l *labeller) add(class, text string, at inspect.Point, r float64) {
	size := 3.2 * l.unit
	b := box{w: textWidth(text, size) + 1.6*size, h: 1.6 * size}
	best, cost := b, math.Inf(1)
	out := math.Atan2(at.Y-l.d.H/2, at.X-l.d.W/2)
	for _, gap := range []float64{3, 7, 12, 18, 26} {
		for turn := range 16 {
			a := out + float64((turn+1)/2)*math.Pi/8*float64(1-turn%2*2)
			sin, cos := math.Sincos(a)
			reach := r + gap*l.unit + math.Abs(cos)*b.w/2 + math.Abs(sin)*b.h/2
			b.x, b.y = at.X+reach*cos, at.Y+reach*sin
			if c := l.cost(b, at, r) + gap + float64(turn)/4; c < cost {
				best, cost = b, c
			}
		}
	}
	l.used = append(l.used, best)
	l.d.line(class+" leader", l.leader(best, at, r)...)
	l.d.area("fill tag "+class, tagShape(class, best)...)
	l.d.text("tag "+class, best.x, best.y, size, 0, text)
}

// cost is how bad a place is, in units: chosen by eye so that a hidden fault
// or a label over another is worse than any distance.
func (l *labeller) cost(b box, at inspect.Point, r float64) float64 {
	if b.x-b.w/2 < l.unit || b.y-b.h/2 < l.unit || b.x+b.w/2 > l.d.W-l.unit || b.y+b.h/2 > l.d.H-l.unit {
		return 1000
	}
	c := 0.0
	for _, o := range l.used {
		if math.Abs(o.x-b.x) < (o.w+b.w)/2+l.unit/2 && math.Abs(o.y-b.y) < (o.h+b.h)/2+l.unit/2 {
			c += 100
		}
	}
	tie := l.leader(b, at, r)
	for _, o := range l.busy {
		dx, dy := max(math.Abs(o.c.X-b.x)-b.w/2, 0), max(math.Abs(o.c.Y-b.y)-b.h/2, 0)
		if math.Hypot(dx, dy) < o.r {
			c += 200
		}
		if o.c != at && distance(o.c, tie[0], tie[1]) < o.r {
			c += 40
		}
	}
	if pt(b.x, b.y).Within(l.head) {
		c += 15
	}
	return c
}

// leader runs from the mark's edge to the label's.
func (l *labeller) leader(b box, at inspect.Point, r float64) []inspect.Point {
	to := pt(b.x, b.y)
	long := math.Hypot(to.X-at.X, to.Y-at.Y)
	k := 1.0
	if dx := math.Abs(to.X - at.X); dx > 0 {
		k = min(k, b.w/2/dx)
	}
	if dy := math.Abs(to.Y - at.Y); dy > 0 {
		k = min(k, b.h/2/dy)
	}
	return []inspect.Point{between(at, to, min(r/long, 1)), between(to, at, k)}
}

// tagShape is round for bare spots, pointed for relief faults, slanted for what
// was cleared, square for the eye.
func tagShape(class string, b box) []inspect.Point {
	x, y, w, h := b.x, b.y, b.w/2, b.h/2
	switch class {
	case "bare":
		var out []inspect.Point
		for i := range 9 {
			sin, cos := math.Sincos(math.Pi * (float64(i)/8 - 0.5))
			out = append(out, pt(x+w-h+h*cos, y+h*sin))
		}
		for i := range 9 {
			sin, cos := math.Sincos(math.Pi * (float64(i)/8 + 0.5))
			out = append(out, pt(x-w+h+h*cos, y+h*sin))
		}
		return out
	case "relief":
		return []inspect.Point{{X: x - w - h/4, Y: y}, {X: x - w + h*0.6, Y: y - h}, {X: x + w - h*0.6, Y: y - h}, {X: x + w + h/4, Y: y}, {X: x + w - h*0.6, Y: y + h}, {X: x - w + h*0.6, Y: y + h}}
	case "cleared":
		return []inspect.Point{{X: x - w - h/3, Y: y + h}, {X: x - w + h/3, Y: y - h}, {X: x + w + h/3, Y: y - h}, {X: x + w - h/3, Y: y + h}}
	}
	return rect(x-w, y-h, 2*w, 2*h)
}
