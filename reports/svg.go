package reports

import (
	"fmt"
	"html"
	"html/template"
	"strconv"
	"strings"

	"jigloupe/inspect"
)

// svg gives the drawing as an inline picture for the page. With a label it is
// an image to a screen reader, without one it is decoration.
func (d drawing) svg(class, label string) template.HTML {
	var b strings.Builder
	d.open(&b, class, label)
	paths(&b, d.Lines)
	d.words(&b, func(word) bool { return true })
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// layer is the part of an overlay that can be switched off with a class.
func layer(class string) string {
	switch {
	case class == "ring" || class == "outline":
		return "angles"
	case class == "scale":
		return "scale"
	case strings.Contains(class, "tag") || strings.Contains(class, "leader"):
		return "labels"
	}
	return "faults"
}

// overlay gives the drawing as marks to lie over a photo: in layers, each
// stroke drawn twice, the first time wide and dark. id must be its own in the page.
func (d drawing) overlay(id string) template.HTML {
	if len(d.Lines) == 0 { // of a photo in which nothing was found
		return ""
	}
	var b strings.Builder
	d.open(&b, "marks", "")
	for _, name := range []string{"angles", "faults", "labels", "scale"} {
		var strokes, areas []line
		for _, l := range d.Lines {
			if layer(l.Class) != name {
				continue
			}
			if isArea(l.Class) {
				areas = append(areas, l)
			} else {
				strokes = append(strokes, l)
			}
		}
		if len(strokes) == 0 {
			continue
		}
		key := id + name[:1]
		fmt.Fprintf(&b, `<g class="%s"><use href="#%s" class="halo"/><g id="%s">`, name, key, key)
		paths(&b, strokes)
		b.WriteString("</g>")
		paths(&b, areas)
		d.words(&b, func(w word) bool { return layer(w.Class) == name })
		b.WriteString("</g>")
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

func (d drawing) open(b *strings.Builder, class, label string) {
	fmt.Fprintf(b, `<svg class="%s" viewBox="0 0 %s %s"`, class, num(d.W), num(d.H))
	if label == "" {
		b.WriteString(` aria-hidden="true">`)
	} else {
		fmt.Fprintf(b, ` role="img" aria-label="%s">`, html.EscapeString(label))
	}
}

// paths writes lines. Open ones of the same class that follow each other, such
// as dashes, become one element: a page has thousands of them.
func paths(b *strings.Builder, lines []line) {
	for i, l := range lines {
		more := i > 0 && joins(lines[i-1], l)
		if !more {
			class := strings.TrimPrefix(l.Class, "fill ")
			fill := ""
			if c := l.Colour; c != nil {
				fill = fmt.Sprintf(` fill="#%02x%02x%02x"`, c[0], c[1], c[2])
			}
			if l.R > 0 {
				fmt.Fprintf(b, `<circle class="%s"%s cx="%s" cy="%s" r="%s"/>`, class, fill, num(l.Pts[0].X), num(l.Pts[0].Y), num(l.R))
				continue
			}
			fmt.Fprintf(b, `<path class="%s"%s d="`, class, fill)
		}
		stretch(b, l)
		if i == len(lines)-1 || !joins(l, lines[i+1]) {
			b.WriteString(`"/>`)
		}
	}
}

func joins(a, b line) bool {
	return a.Class == b.Class && !isArea(a.Class) && !a.Closed && !b.Closed
}

func stretch(b *strings.Builder, l line) {
	last := inspect.Point{}
	for i, p := range l.Pts {
		// Relative steps are shorter than places; rounding each place first
		// keeps the steps from drifting.
		p = pt(round1(p.X), round1(p.Y))
		if i == 0 {
			b.WriteString("M" + num(p.X) + " " + num(p.Y) + "l")
		} else {
			dy := num(p.Y - last.Y)
			if !strings.HasPrefix(dy, "-") {
				dy = " " + dy
			}
			if i > 1 && p.X >= last.X {
				b.WriteByte(' ')
			}
			b.WriteString(num(p.X-last.X) + dy)
		}
		last = p
	}
	if len(l.Pts) == 1 {
		b.WriteString("0 0")
	}
	if l.Closed {
		b.WriteByte('z')
	}
}

func (d drawing) words(b *strings.Builder, wanted func(word) bool) {
	for _, w := range d.Words {
		if !wanted(w) {
			continue
		}
		anchor := map[int]string{-1: "", 0: ` text-anchor="middle"`, 1: ` text-anchor="end"`}[w.Align]
		fmt.Fprintf(b, `<text class="%s" x="%s" y="%s" font-size="%s"%s>%s</text>`, w.Class, num(w.At.X), num(w.At.Y+0.36*w.Size), num(w.Size), anchor, html.EscapeString(w.Text))
	}
}

func round1(v float64) float64 {
	r, _ := strconv.ParseFloat(num(v), 64)
	return r
}

// num prints with one decimal at most, as short as it goes.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	s = strings.TrimSuffix(s, ".0")
	if s == "-0" {
		return "0"
	}
	return s
}
