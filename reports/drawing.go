package reports

import (
	"math"
	"strings"

	"jigloupe/inspect"
)

// A drawing is lines and words, y down, in a unit of its own. Pictures, page
// and PDF show the same drawings; colours, widths and fonts are theirs.
type drawing struct {
	W, H  float64
	Lines []line
	Words []word
}

// A line joins points. Its class says what it shows, e.g. "ring" or "bare";
// a class that begins with "fill" is an area.
type line struct {
	Class  string
	Pts    []inspect.Point
	Closed bool
	R      float64   // of a circle about its only point, else 0
	Colour *[3]uint8 // sRGB, of an area that shows a measured colour
}

// A word is text whose middle line runs through At.
type word struct {
	Class string
	At    inspect.Point
	Text  string
	Size  float64 // height of the font
	Align int     // -1 begins at At, 0 is centred there, 1 ends there
	Bold  bool
}

func (d *drawing) line(class string, pts ...inspect.Point) {
	d.Lines = append(d.Lines, line{Class: class, Pts: pts})
}

func (d *drawing) area(class string, pts ...inspect.Point) {
	d.Lines = append(d.Lines, line{Class: class, Pts: pts, Closed: true})
}

func (d *drawing) text(class string, x, y, size float64, align int, text string) {
	d.Words = append(d.Words, word{Class: class, At: pt(x, y), Text: text, Size: size, Align: align})
}

func (d *drawing) bold(x, y, size float64, text string) {
	d.Words = append(d.Words, word{At: pt(x, y), Text: text, Size: size, Align: -1, Bold: true})
}

// place puts another drawing, k times as large, with its corner at x, y.
func (d *drawing) place(o drawing, x, y, k float64) {
	o = enlarged(o, k)
	for _, l := range o.Lines {
		for i := range l.Pts {
			l.Pts[i] = pt(l.Pts[i].X+x, l.Pts[i].Y+y)
		}
		d.Lines = append(d.Lines, l)
	}
	for _, w := range o.Words {
		w.At = pt(w.At.X+x, w.At.Y+y)
		d.Words = append(d.Words, w)
	}
}

func (d *drawing) circle(class string, c inspect.Point, r float64) {
	d.Lines = append(d.Lines, line{Class: class, Pts: []inspect.Point{c}, Closed: true, R: r})
}

// polygon gives the points of the line, of a circle too.
func (l line) polygon() []inspect.Point {
	if l.R > 0 {
		return circle(l.Pts[0], l.R, 48)
	}
	return l.Pts
}

func isArea(class string) bool { return strings.HasPrefix(class, "fill") }

func pt(x, y float64) inspect.Point { return inspect.Point{X: x, Y: y} }

// circle returns a ring of points about c, or a diamond when n is 4.
func circle(c inspect.Point, r float64, n int) []inspect.Point {
	out := make([]inspect.Point, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out[i] = pt(c.X+r*cos, c.Y+r*sin)
	}
	return out
}

func rect(x, y, w, h float64) []inspect.Point {
	return []inspect.Point{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
}

// dashes cuts a line into strokes of the given length with gaps as long.
func dashes(pts []inspect.Point, closed bool, length float64) [][]inspect.Point {
	if closed && len(pts) > 0 {
		pts = append(pts[:len(pts):len(pts)], pts[0])
	}
	var out [][]inspect.Point
	var dash []inspect.Point
	left, on := length, true
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		d := math.Hypot(b.X-a.X, b.Y-a.Y)
		for done := 0.0; done < d; {
			step := min(left, d-done)
			if on {
				if dash == nil {
					dash = append(dash, between(a, b, done/d))
				}
				dash = append(dash, between(a, b, (done+step)/d))
			}
			done += step
			if left -= step; left <= 0 {
				if on {
					out = append(out, dash)
				}
				dash, on, left = nil, !on, length
			}
		}
	}
	if dash != nil {
		out = append(out, dash)
	}
	return out
}

func between(a, b inspect.Point, k float64) inspect.Point {
	return pt(a.X+k*(b.X-a.X), a.Y+k*(b.Y-a.Y))
}

// thin drops the points of a line that lie within slack of what is left of it
// (Ramer 1972, Douglas and Peucker 1973): outlines come with a point a pixel,
// and 200 pieces of them would not fit the page.
func thin(pts []inspect.Point, slack float64) []inspect.Point {
	if len(pts) < 3 {
		return pts
	}
	a, b := pts[0], pts[len(pts)-1]
	far, at := slack, 0
	for i, p := range pts[1 : len(pts)-1] {
		if d := distance(p, a, b); d > far {
			far, at = d, i+1
		}
	}
	if at == 0 {
		return []inspect.Point{a, b}
	}
	head := thin(pts[:at+1], slack)
	return append(head[:len(head)-1:len(head)-1], thin(pts[at:], slack)...)
}

// distance is from p to the stretch between a and b.
func distance(p, a, b inspect.Point) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	k := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		k = min(max(((p.X-a.X)*dx+(p.Y-a.Y)*dy)/l, 0), 1)
	}
	return math.Hypot(p.X-a.X-k*dx, p.Y-a.Y-k*dy)
}

func enlarged(d drawing, k float64) drawing {
	out := drawing{W: d.W * k, H: d.H * k}
	for _, l := range d.Lines {
		pts := make([]inspect.Point, len(l.Pts))
		for i, p := range l.Pts {
			pts[i] = pt(p.X*k, p.Y*k)
		}
		l.Pts, l.R = pts, l.R*k
		out.Lines = append(out.Lines, l)
	}
	for _, w := range d.Words {
		w.At, w.Size = pt(w.At.X*k, w.At.Y*k), w.Size*k
		out.Words = append(out.Words, w)
	}
	return out
}
