package reports

import (
	"fmt"
	"html/template"
	"math"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
)

// groupSwatches shows each group's mean colour by viewing angle, one row a group.
func groupSwatches(groups []study.Group) template.HTML {
	const wide, row, left = 480.0, 44.0, 110.0
	d := drawing{W: wide, H: 24}
	most := 0
	for _, g := range groups {
		most = max(most, len(g.Mean))
	}
	if most == 0 {
		return ""
	}
	step := (wide - left) / float64(most)
	clipped := false
	for _, g := range groups {
		if len(g.Mean) == 0 {
			continue
		}
		d.text("label", left-8, d.H+row/2, textSize, 1, cut(g.Name, 15))
		for i, bin := range g.Mean {
			colour, ok := screen(bin)
			clipped = clipped || !ok
			d.Lines = append(d.Lines, line{Class: "fill swatch", Pts: rect(left+float64(i)*step+1, d.H+1, step-2, row-2), Closed: true, Colour: &colour})
			if d.H == 24 {
				d.text("label", left+(float64(i)+0.5)*step, 12, textSize-1, 0, fmt.Sprintf("%.0f°", bin.ViewingDeg))
			}
		}
		d.H += row
	}
	label := "Mean colour of each group by viewing angle"
	if clipped {
		label += "; some colours are beyond what a screen shows and are clipped"
		d.text("label", left, d.H+10, textSize-1, -1, "some colours are beyond this screen and clipped")
		d.H += 22
	}
	return d.svg("plot wide", label)
}

// cut shortens a name for a plot.
func cut(name string, most int) string {
	r := []rune(plain(name))
	if len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return string(r)
}

// spanPlot draws a value with its interval at every viewing angle and a dashed
// line to hold it against.
type span struct {
	viewingDeg, value float64
	in                *study.Interval
}

func spanPlot(title, label string, spans []span, against float64, least float64) template.HTML {
	d := drawing{W: 420, H: 200}
	p := panel{d: &d, x: 44, y: 24, w: 364, h: 130, x0: 0, x1: 90}
	low, high := []float64{against}, []float64{against}
	for _, s := range spans {
		if s.in != nil {
			low, high = append(low, s.in.Lo), append(high, s.in.Hi)
		}
		low, high = append(low, s.value), append(high, s.value)
	}
	p.fit(low, high, least)
	if against >= 0 && p.y0 < 0 {
		p.y0 = 0
	}
	p.frame(title, true)
	for _, dash := range dashes([]inspect.Point{p.at(0, against), p.at(90, against)}, false, 7) {
		d.line("limit", dash...)
	}
	for _, s := range spans {
		if s.in != nil {
			d.line("mark", p.at(s.viewingDeg, s.in.Lo), p.at(s.viewingDeg, s.in.Hi))
		}
		d.circle("fill dot", p.at(s.viewingDeg, s.value), 3.5)
	}
	return d.svg("plot", label)
}

// A shareRow is a share of pieces with its interval.
type shareRow struct {
	name string
	rate study.Rate
}

// sharePlot draws shares of pieces with their intervals, one row each.
func sharePlot(title, label string, rows []shareRow) template.HTML {
	const left, wide, row, top = 130.0, 300.0, 26.0, 22.0
	d := drawing{W: left + wide + 60, H: row*float64(len(rows)) + 26 + top}
	d.text("label", left, 10, textSize, -1, title)
	x := func(share float64) float64 { return left + wide*share }
	for _, share := range []float64{0, 0.25, 0.5, 0.75, 1} {
		d.line("grid", pt(x(share), top), pt(x(share), d.H-22))
		d.text("label", x(share), d.H-10, textSize-1, 0, fmt.Sprintf("%.0f %%", 100*share))
	}
	for i, r := range rows {
		y := row*float64(i) + top + row/2
		d.text("label", left-8, y, textSize, 1, cut(r.name, 18))
		if r.rate.Of == 0 {
			d.text("label", left+6, y, textSize-1, -1, "not judged")
			continue
		}
		d.line("mark", pt(x(r.rate.In.Lo), y), pt(x(r.rate.In.Hi), y))
		d.circle("fill dot", pt(x(r.rate.Share()), y), 4)
		d.text("value", d.W-4, y, textSize-1, 1, fmt.Sprintf("%d of %d", r.rate.Count, r.rate.Of))
	}
	return d.svg("plot", label)
}

// chartPlot draws a control chart: points in order of time, centre line and
// limits, points of a signal marked. least is the smallest span it shows.
func chartPlot(title, label string, c *study.Chart, least float64) template.HTML {
	d := drawing{W: 640, H: 240}
	n := len(c.Points)
	p := panel{d: &d, x: 60, y: 24, w: 560, h: 176, x0: 0, x1: float64(n) + 1}
	low, high := []float64{c.Centre}, []float64{c.Centre}
	for _, point := range c.Points {
		low, high = append(low, math.Min(point.Value, point.Lower)), append(high, math.Max(point.Value, point.Upper))
	}
	p.fit(low, high, least)
	p.frame(title, false)
	d.line("axis", p.at(0, c.Centre), p.at(p.x1, c.Centre))
	var values, upper, lower []inspect.Point
	for i, point := range c.Points {
		x := float64(i) + 1
		values = append(values, p.at(x, point.Value))
		upper = append(upper, p.at(x-0.5, point.Upper), p.at(x+0.5, point.Upper))
		lower = append(lower, p.at(x-0.5, point.Lower), p.at(x+0.5, point.Lower))
	}
	for _, limit := range [][]inspect.Point{upper, lower} {
		for _, dash := range dashes(limit, false, 6) {
			d.line("limit", dash...)
		}
	}
	d.line("curve", values...)
	for i, v := range values {
		d.circle("fill dot", v, 3)
		for _, s := range c.Signals {
			if i >= s.From && i <= s.To {
				d.circle("alarm", v, 7)
				break
			}
		}
	}
	step := int(math.Max(1, math.Ceil(float64(n)/12)))
	for i := 0; i < n; i += step {
		d.text("label", p.at(float64(i)+1, 0).X, p.y+p.h+14, textSize-1, 0, fmt.Sprint(i+1))
	}
	d.text("label", p.x+p.w, p.y+p.h+30, textSize-1, 1, "batches in order of date")
	return d.svg("plot wide", label)
}

// passPlot draws the chance that the lot passes against its faulty pieces: the
// plan's operating characteristic.
func passPlot(v study.LotVerdict) template.HTML {
	d := drawing{W: 420, H: 240}
	most := min(v.Plan.LotSize, 2*v.Risks.ConsumerAt+1)
	p := panel{d: &d, x: 52, y: 24, w: 356, h: 160, x0: 0, x1: float64(max(most, 1)), y0: 0, y1: 1}
	p.frame("chance that the lot passes", false)
	var path []inspect.Point
	stride := max(1, most/100)
	for faulty := 0; faulty <= most; faulty += stride {
		path = append(path, p.at(float64(faulty), v.Plan.Passes(faulty, v.Oversight)))
	}
	d.line("curve", path...)
	mark := func(faulty int) {
		at := p.at(float64(faulty), v.Plan.Passes(faulty, v.Oversight))
		d.circle("fill dot", at, 4)
		d.text("value", at.X+8, max(at.Y-8, p.y+10), textSize-1, -1, fmt.Sprint(faulty))
	}
	mark(v.Risks.AtAQL)
	if v.Risks.ConsumerAt <= most {
		mark(v.Risks.ConsumerAt)
	}
	step := tick(p.x1, 4)
	for x := 0.0; x <= p.x1; x += math.Max(1, step) {
		d.text("label", p.at(x, 0).X, p.y+p.h+14, textSize-1, 0, fmt.Sprintf("%.0f", x))
	}
	d.text("label", p.x+p.w, p.y+p.h+32, textSize-1, 1, fmt.Sprintf("faulty pieces in the lot of %d", v.Plan.LotSize))
	return d.svg("plot", "Chance that the lot passes against the faulty pieces in it")
}
