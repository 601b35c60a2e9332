package reports

import (
	"fmt"
	"math"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// The plots. Bands and discs of doubt are k = 2 wide and take the whole
// uncertainty of a bin, a ΔE00, as if it all lay in the direction drawn: they
// are never narrower than the truth.

const textSize = 13

// swatches shows the coat as a screen can, one field per viewing angle. Colours
// no screen of ordinary gamut shows are clipped; said says so.
func swatches(t *inspect.Travel) (d drawing, clipped bool) {
	const wide, high = 330.0, 64.0
	d = drawing{W: wide, H: high}
	step := wide / float64(max(len(t.Curve), 1))
	for i, bin := range t.Curve {
		colour, ok := screen(bin)
		clipped = clipped || !ok
		x := float64(i) * step
		d.Lines = append(d.Lines, line{Class: "fill swatch", Pts: rect(x+1, 0, step-2, high-22), Closed: true, Colour: &colour})
		d.text("label", x+step/2, high-9, textSize, 0, fmt.Sprintf("%.0f°", bin.ViewingDeg))
	}
	return d, clipped
}

func screen(bin inspect.TravelBin) (rgb [3]uint8, inGamut bool) { return lab(bin).LinearRGB().SRGB() }

func lab(bin inspect.TravelBin) calib.Lab { return calib.Lab{L: bin.L, A: bin.A, B: bin.B} }

// hueChroma is the chroma below which a hue angle means too little to plot:
// there a ΔE00 of 1 turns it by more than 10°.
const hueChroma = 5

// doubtAlong is how far a colour can go, in steps of which step takes n, before
// it is its expanded uncertainty away. ΔE00 is taken as straight from n = 0 on,
// as it nearly is over distances such as these.
func doubtAlong(bin inspect.TravelBin, step func(c calib.Lab, n float64) calib.Lab) float64 {
	const n = 0.5
	return 2 * bin.U * n / calib.DeltaE2000(lab(bin), step(lab(bin), n))
}

func doubtL(bin inspect.TravelBin) float64 {
	return doubtAlong(bin, func(c calib.Lab, n float64) calib.Lab { return calib.Lab{L: c.L + n, A: c.A, B: c.B} })
}

// doubtAB is the doubt in the a*b* plane, in the direction in which it is largest.
func doubtAB(bin inspect.TravelBin) float64 {
	worst := 0.0
	for _, d := range circle(pt(0, 0), 1, 16) {
		worst = max(worst, doubtAlong(bin, func(c calib.Lab, n float64) calib.Lab { return calib.Lab{L: c.L, A: c.A + n*d.X, B: c.B + n*d.Y} }))
	}
	return worst
}

// doubtHueDeg is the doubt of the hue angle at constant chroma, at most half a turn.
func doubtHueDeg(bin inspect.TravelBin) float64 {
	return min(180, doubtAlong(bin, func(c calib.Lab, n float64) calib.Lab {
		sin, cos := math.Sincos(n * math.Pi / 180)
		return calib.Lab{L: c.L, A: c.A*cos - c.B*sin, B: c.A*sin + c.B*cos}
	}))
}

// planePlot draws the travel in the a*b* plane, a dot per viewing angle, and
// dashed that of a reference unless it is nil.
func planePlot(t, reference *inspect.Travel) drawing {
	const size, edge = 300.0, 8.0
	d := drawing{W: size, H: size}
	reach := 20.0
	for _, b := range t.Curve {
		reach = max(reach, math.Abs(b.A)+doubtAB(b), math.Abs(b.B)+doubtAB(b))
	}
	if reference != nil {
		for _, b := range reference.Curve {
			reach = max(reach, math.Abs(b.A), math.Abs(b.B))
		}
	}
	k := (size/2 - edge) / reach
	at := func(a, b float64) inspect.Point { return pt(size/2+k*a, size/2-k*b) }
	step := tick(reach, 3)
	for c := step; c <= reach; c += step {
		d.circle("grid", at(0, 0), k*c)
		d.text("label", size/2+4, size/2-k*c+9, textSize-2, -1, fmt.Sprintf("%.0f", c))
	}
	d.line("axis", at(-reach, 0), at(reach, 0))
	d.line("axis", at(0, -reach), at(0, reach))
	d.text("label", size-4, size/2+12, textSize, 1, "a*")
	d.text("label", size/2-6, 12, textSize, 1, "b*")
	var path []inspect.Point
	for _, b := range t.Curve {
		d.circle("fill doubt", at(b.A, b.B), k*doubtAB(b))
		path = append(path, at(b.A, b.B))
	}
	d.line("curve", path...)
	if reference != nil {
		var other []inspect.Point
		for _, b := range reference.Curve {
			other = append(other, at(b.A, b.B))
		}
		for _, dash := range dashes(other, false, 5) {
			d.line("curve", dash...)
		}
	}
	for i, b := range t.Curve {
		colour, _ := screen(b)
		d.Lines = append(d.Lines, line{Class: "fill dot", Pts: path[i : i+1], Closed: true, R: 5, Colour: &colour})
		if i == 0 || i == len(t.Curve)-1 {
			d.text("value", path[i].X+9, path[i].Y-9, textSize, -1, fmt.Sprintf("%.0f°", b.ViewingDeg))
		}
	}
	return d
}

// anglePlot draws lightness and hue angle against the viewing angle.
func anglePlot(t *inspect.Travel) drawing {
	d := drawing{W: 420, H: 300}
	light := panel{d: &d, x: 44, y: 20, w: 364, h: 104, x0: 0, x1: 90}
	hue := light
	hue.y = 160
	var low, high []float64
	for _, b := range t.Curve {
		low, high = append(low, b.L-doubtL(b)), append(high, b.L+doubtL(b))
	}
	light.fit(low, high, 10)
	light.frame("lightness L*", false)
	hues := unwound(t.Curve)
	low, high = nil, nil
	for i, b := range t.Curve {
		if lab(b).Chroma() >= hueChroma {
			low, high = append(low, hues[i]-doubtHueDeg(b)), append(high, hues[i]+doubtHueDeg(b))
		}
	}
	hue.fit(low, high, 30)
	hue.frame("hue angle, °", true)
	light.curve(t.Curve, func(i int) (v, doubt float64, ok bool) { return t.Curve[i].L, doubtL(t.Curve[i]), true })
	hue.curve(t.Curve, func(i int) (v, doubt float64, ok bool) {
		return hues[i], doubtHueDeg(t.Curve[i]), lab(t.Curve[i]).Chroma() >= hueChroma
	})
	if low == nil {
		d.text("label", hue.x+hue.w/2, hue.y+hue.h/2, textSize, 0, "too grey to have a hue")
	}
	return d
}

// unwound gives hue angles that do not jump from 360° to 0° along the curve.
func unwound(curve []inspect.TravelBin) []float64 {
	out := make([]float64, len(curve))
	for i, b := range curve {
		out[i] = lab(b).HueDeg()
		if i > 0 {
			out[i] += 360 * math.Round((out[i-1]-out[i])/360)
		}
	}
	return out
}

// outlinePlot draws how far the outline is from that of its head style, all the
// way round, with the limit on both sides.
func outlinePlot(r *inspect.Relief, limitMM float64) drawing {
	d := drawing{W: 330, H: 160}
	p := panel{d: &d, x: 52, y: 20, w: 256, h: 98, x0: 0, x1: 100}
	low, high := []float64{-limitMM * 1.15}, []float64{limitMM * 1.15}
	worst := 0
	for i, s := range r.Deviation {
		low, high = append(low, s.DeviationMM), append(high, s.DeviationMM)
		if math.Abs(s.DeviationMM) > math.Abs(r.Deviation[worst].DeviationMM) {
			worst = i
		}
	}
	p.fit(low, high, 0.1)
	p.frame("outline off its smooth form, mm, + is out", false)
	for _, x := range []float64{0, 25, 50, 75, 100} {
		p.d.text("label", p.at(x, 0).X, p.y+p.h+14, textSize-1, 0, fmt.Sprintf("%.0f %%", x))
	}
	d.text("label", p.x+p.w/2, p.y+p.h+32, textSize-1, 0, "of the way round the outline")
	for _, limit := range []float64{limitMM, -limitMM} {
		for _, dash := range dashes([]inspect.Point{p.at(0, limit), p.at(100, limit)}, false, 7) {
			d.line("limit", dash...)
		}
	}
	d.line("axis", p.at(0, 0), p.at(100, 0))
	way := func(i int) float64 { return 100 * float64(i) / float64(max(len(r.Deviation)-1, 1)) }
	var path []inspect.Point
	for i, s := range r.Deviation {
		path = append(path, p.at(way(i), s.DeviationMM))
	}
	d.line("curve", thin(path, 0.3)...)
	if len(path) > 0 {
		d.circle("fill dot", path[worst], 4)
	}
	return d
}

// A panel is one pair of axes in a drawing.
type panel struct {
	d              *drawing
	x, y, w, h     float64
	x0, x1, y0, y1 float64 // the values at the edges
}

func (p *panel) at(x, y float64) inspect.Point {
	return pt(p.x+p.w*(x-p.x0)/(p.x1-p.x0), p.y+p.h*(p.y1-y)/(p.y1-p.y0))
}

// fit makes the panel hold the values, and at least so much of a range: noise
// must not fill a plot from edge to edge.
func (p *panel) fit(low, high []float64, least float64) {
	p.y0, p.y1 = 0, least
	if len(low) > 0 {
		p.y0, p.y1 = low[0], high[0]
	}
	for i := range low {
		p.y0, p.y1 = min(p.y0, low[i]), max(p.y1, high[i])
	}
	more := max(least-(p.y1-p.y0), 0.08*(p.y1-p.y0)) / 2
	p.y0, p.y1 = p.y0-more, p.y1+more
}

func (p *panel) frame(title string, angles bool) {
	p.d.text("label", p.x, p.y-9, textSize, -1, title)
	step := tick(p.y1-p.y0, 3)
	digits := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	for v := math.Ceil(p.y0/step) * step; v <= p.y1+1e-9; v += step {
		p.d.line("grid", p.at(p.x0, v), p.at(p.x1, v))
		p.d.text("label", p.x-5, p.at(0, v).Y, textSize-1, 1, fmt.Sprintf("%.*f", digits, v+0)) // + 0 turns -0 into 0
	}
	for v := 0.0; angles && v <= 90; v += 30 {
		p.d.text("label", p.at(v, 0).X, p.y+p.h+14, textSize-1, 0, fmt.Sprintf("%.0f°", v))
	}
	if angles {
		p.d.text("label", p.x+p.w, p.y+p.h+30, textSize, 1, "viewing angle")
	}
	p.d.line("axis", pt(p.x, p.y), pt(p.x, p.y+p.h), pt(p.x+p.w, p.y+p.h))
}

// curve draws what value gives for each bin with its band, broken where not ok.
func (p *panel) curve(bins []inspect.TravelBin, value func(i int) (v, doubt float64, ok bool)) {
	var path, upper, lower []inspect.Point
	flush := func() {
		if len(path) > 0 {
			for i := len(lower) - 1; i >= 0; i-- {
				upper = append(upper, lower[i])
			}
			p.d.area("fill doubt", upper...)
			p.d.line("curve", path...)
		}
		path, upper, lower = nil, nil, nil
	}
	for i, b := range bins {
		v, doubt, ok := value(i)
		if !ok {
			flush()
			continue
		}
		path = append(path, p.at(b.ViewingDeg, v))
		upper = append(upper, p.at(b.ViewingDeg, v+doubt))
		lower = append(lower, p.at(b.ViewingDeg, v-doubt))
		p.d.circle("fill dot", p.at(b.ViewingDeg, v), 3)
	}
	flush()
}

// tick is a round step (1, 2 or 5 times a power of ten) that gives at least n steps.
func tick(span float64, n int) float64 {
	p := math.Pow(10, math.Floor(math.Log10(span/float64(n))))
	for _, k := range []float64{5, 2} {
		if k*p <= span/float64(n) {
			return k * p
		}
	}
	return p
}
