package reports

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strconv"

	"jigloupe/inspect"
)

// A mark is one fault as the picture shows it. Bare spots and relief faults
// are told apart by the shape of mark and label and by the word, and only then
// by tint: about one man in twelve could not rely on tint.
type mark struct {
	number int
	class  string // "bare", "relief" or "cleared", which is no fault
	word   string
	says   string        // what, where, how big, how sure
	at     inspect.Point // in the picture
	r      float64       // of the fault itself, picture px
	sure   bool          // a doubtful fault is dashed
	edge   []inspect.Point
}

// faults lists the marks of a photo, those that can't be told and those that are
// light and no faults last, and place maps the photo onto its picture.
func faults(ph *inspect.Photo) []mark {
	var out []mark
	bare := func(s inspect.BareSpot) mark {
		return mark{number: s.Number, class: "bare", word: "bare spot", says: bareWords(s), at: place(ph, s.X, s.Y),
			r: s.DiameterPx / 2 * ph.Picture.Scale, sure: s.Confidence >= inspect.Doubtful, edge: placeAll(ph, s.Outline)}
	}
	relief := func(f inspect.ReliefFault) mark {
		return mark{number: f.Number, class: "relief", word: kindWord(f.Kind), says: reliefWords(f), at: place(ph, f.X, f.Y),
			r: f.DiameterPx / 2 * ph.Picture.Scale, sure: f.Confidence >= inspect.Doubtful}
	}
	for _, s := range ph.BareSpots {
		out = append(out, bare(s))
	}
	for _, f := range ph.ReliefFaults {
		out = append(out, relief(f))
	}
	for _, s := range ph.DarkSpots {
		m := bare(s)
		m.word, m.says, m.sure = "too dark", darkWords(s), false
		switch s.Shows {
		case inspect.MetalOrGloss:
			m.word = "in gloss"
		case inspect.MetalOrCard:
			m.word = "left out"
		case inspect.MetalOrTint:
			m.word = "in two lights"
		}
		out = append(out, m)
	}
	for _, f := range ph.DoubtfulRelief {
		m := relief(f)
		m.word, m.says, m.sure = "a lump?", doubtfulWords(f), false
		out = append(out, m)
	}
	for _, s := range ph.ClearedSpots {
		out = append(out, bare(s).cleared())
	}
	for _, f := range ph.ClearedRelief {
		out = append(out, relief(f).cleared())
	}
	return out
}

// cleared is a mark that moved with the lamp.
func (m mark) cleared() mark {
	m.class, m.word, m.edge, m.sure = "cleared", "cleared", nil, true
	return m
}

// place turns a place in the photo into picture px. Results that somebody changed can say
// any place; what lies far outside the picture is brought nearer.
func place(ph *inspect.Photo, x, y float64) inspect.Point {
	const far = 5000 // px: pictures are 900 px wide
	p := ph.Picture
	near := func(v float64) float64 { return min(max(v*p.Scale, -far), far) }
	return pt(near(x-float64(p.X)), near(y-float64(p.Y)))
}

func placeAll(ph *inspect.Photo, pts []inspect.Point) []inspect.Point {
	out := make([]inspect.Point, len(pts))
	for i, p := range pts {
		out[i] = place(ph, p.X, p.Y)
	}
	return out
}

// marked draws everything that is known about a photo over its picture, in
// picture px: head, viewing angles, numbered faults, eye and scale.
func marked(ph *inspect.Photo) drawing {
	d := drawing{W: float64(ph.Picture.Width), H: float64(ph.Picture.Height)}
	u := max(d.W, d.H) / 100
	all := faults(ph)
	short := len(all) > 8 // more words than that hide the head; the list beside the picture has them
	labels := labeller{d: &d, unit: u}
	var angles []disc // where an angle is written
	for _, m := range all {
		labels.busy = append(labels.busy, disc{m.at, m.ring(u)})
	}
	if ph.Head != nil {
		labels.head = placeAll(ph, ph.Head.Outline)
		for _, deg := range []float64{30, 60} {
			var rings [][]inspect.Point
			for _, r := range ph.Head.Rings {
				if r.ViewingDeg == deg && len(r.Line) > 0 {
					rings = append(rings, placeAll(ph, r.Line))
				}
			}
			slices.SortStableFunc(rings, func(a, b []inspect.Point) int { return len(b) - len(a) })
			for i, line := range rings {
				name := ""
				if i == 0 { // the body's: once tells which line it is
					name = fmt.Sprintf("%.0f°", deg)
				}
				if at := viewingRing(&d, line, labels.busy, name); at != nil {
					angles = append(angles, disc{*at, 2 * u})
				}
			}
		}
		if len(labels.head) > 0 {
			d.area("outline", thin(labels.head, 0.5)...)
		}
	}
	labels.busy = append(labels.busy, angles...)
	for _, m := range all {
		m.draw(&d, u)
		text := strconv.Itoa(m.number)
		if !short {
			text += " " + m.word
		}
		labels.add(m.class, text, m.at, m.ring(u))
	}
	if ph.EyeAt != nil && ph.Eye != inspect.EyeUnseen {
		at := place(ph, ph.EyeAt.X, ph.EyeAt.Y)
		labels.add("eye", "eye "+string(ph.Eye), at, 4*u)
	}
	scaleBar(&d, ph, 3.2*u)
	return d
}

// viewingRing draws a line of equal viewing angle where no fault is, and writes
// its name at its lowest free point, which it returns.
func viewingRing(d *drawing, pts []inspect.Point, busy []disc, name string) *inspect.Point {
	var stretch []inspect.Point
	low := pt(0, math.Inf(-1))
	flush := func() {
		if len(stretch) > 1 {
			d.line("ring", thin(stretch, 0.5)...)
		}
		stretch = nil
	}
	for i, b := range pts {
		a := pts[max(i-1, 0)]
		for n, k := int(math.Ceil(math.Hypot(b.X-a.X, b.Y-a.Y)))+1, 1; k <= n; k++ { // by px
			p := between(a, b, float64(k)/float64(n))
			if slices.ContainsFunc(busy, func(o disc) bool { return math.Hypot(p.X-o.c.X, p.Y-o.c.Y) < o.r }) {
				flush()
				continue
			}
			stretch = append(stretch, p)
			if p.Y > low.Y {
				low = p
			}
		}
	}
	flush()
	if math.IsInf(low.Y, -1) || name == "" {
		return nil
	}
	d.text("ring", low.X, low.Y, 3*max(d.W, d.H)/100, 0, name)
	return &low
}

// zoomed draws one fault over the part w of the picture, without a label: the
// fault is in the middle and nothing may hide it.
func zoomed(ph *inspect.Photo, m mark, w image.Rectangle) drawing {
	d := drawing{W: float64(w.Dx()), H: float64(w.Dy())}
	m.at.X -= float64(w.Min.X)
	m.at.Y -= float64(w.Min.Y)
	m.edge = nil
	m.draw(&d, max(d.W, d.H)/60)
	scaleBar(&d, ph, max(d.W, d.H)/12) // shown small, so the words must be large
	return d
}

// window is the part of the picture that zoomed shows: the fault with three
// times its width around it, at least 40 px either way, shifted into the picture.
func (m mark) window(ph *inspect.Photo) image.Rectangle {
	half := int(math.Ceil(max(3.5*m.r, 40)))
	c := image.Pt(int(m.at.X), int(m.at.Y))
	w := image.Rect(c.X-half, c.Y-half, c.X+half, c.Y+half)
	b := image.Rect(0, 0, ph.Picture.Width, ph.Picture.Height)
	w = w.Sub(image.Pt(max(w.Max.X-b.Max.X, 0), max(w.Max.Y-b.Max.Y, 0)))
	w = w.Add(image.Pt(max(b.Min.X-w.Min.X, 0), max(b.Min.Y-w.Min.Y, 0)))
	return w.Intersect(b)
}

// ring is the radius of a mark: clear of the fault, and never too small to see.
func (m mark) ring(unit float64) float64 { return max(1.2*m.r+unit, 1.8*unit) }

func (m mark) draw(d *drawing, unit float64) {
	if len(m.edge) > 2 {
		d.area(m.class+" edge", thin(m.edge, 0.3)...)
	}
	r := m.ring(unit)
	shape := circle(m.at, r, 48)
	if m.class == "relief" {
		shape = circle(m.at, 1.3*r, 4)
	}
	switch {
	case m.class == "cleared": // crossed out
		for _, side := range [2]float64{-1, 1} {
			d.line(m.class, pt(m.at.X-0.7*r, m.at.Y-0.7*side*r), pt(m.at.X+0.7*r, m.at.Y+0.7*side*r))
		}
	case !m.sure:
		for _, dash := range dashes(shape, true, 1.3*unit) {
			d.line(m.class, dash...)
		}
	case m.class == "relief":
		d.area(m.class, shape...)
	default:
		d.circle(m.class, m.at, r)
	}
}

// scaleBar draws a round number of mm, about a quarter of the drawing wide.
func scaleBar(d *drawing, ph *inspect.Photo, size float64) {
	if ph.ScaleMMPerPx == nil {
		return
	}
	pxPerMM := ph.Picture.Scale / *ph.ScaleMMPerPx
	mm := 0.1
	for _, n := range []float64{0.2, 0.5, 1, 2, 5, 10, 20} {
		if n*pxPerMM <= 0.3*d.W {
			mm = n
		}
	}
	u := max(d.W, d.H) / 100
	x, y, w := 3*u, d.H-3*u, mm*pxPerMM
	d.line("scale", pt(x, y-1.5*u), pt(x, y), pt(x+w, y), pt(x+w, y-1.5*u))
	d.text("scale", x, y-0.9*size, size, -1, strconv.FormatFloat(mm, 'g', -1, 64)+" mm")
}
