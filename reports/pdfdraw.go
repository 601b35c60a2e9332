package reports

import (
	"bytes"
	"encoding/gob"
	"fmt"
	"math"
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"jigloupe/inspect"
)

// Colours by class, as red, green, blue; the first for ink on paper, the other
// for marks over a photo.
type rgb [3]int

var inks = map[string]rgb{
	"": {0x20, 0x24, 0x1f}, "grey": {0x56, 0x5b, 0x52}, "label": {0x56, 0x5b, 0x52}, "grid": {0xd0, 0xd0, 0xc8}, "swatch": {0xd0, 0xd0, 0xc8}, "axis": {0x70, 0x75, 0x6c},
	"pass": {0x1f, 0x6b, 0x4a}, "fail": {0xa1, 0x33, 0x1c}, "retake": {0x62, 0x50, 0x8f}, "limit": {0xa1, 0x33, 0x1c}, "doubt": {0x1d, 0x5a, 0x73},
}

func (d *document) ink(name string) {
	c := inks[name]
	d.SetDrawColor(c[0], c[1], c[2])
	d.SetFillColor(c[0], c[1], c[2])
	d.SetTextColor(c[0], c[1], c[2])
}

// printable keeps what the font and the format can hold.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= 0xffff {
			return 0xfffd // the PDF writer has no place for it
		}
		return r
	}, plain(s))
}

// at prints one line of text with its foot at y; size is in points.
func (d *document) at(x, y, size float64, style, ink, text string) {
	d.SetFont("text", style, size)
	d.ink(ink)
	d.Text(x, y, printable(text))
}

// fit is at for text that must not be wider than w.
func (d *document) fit(x, y, w, size float64, style, ink, text string) {
	d.SetFont("text", style, size)
	d.at(x, y, size, style, ink, d.cut(printable(text), w))
}

// cut ends text with an ellipsis where it would be wider than w in the current font.
func (d *document) cut(text string, w float64) string {
	if d.GetStringWidth(text) <= w {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && d.GetStringWidth(string(runes)+"…") > w {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// lines prints wrapped text at d.y and moves d.y below it.
func (d *document) lines(x, w, size float64, style, ink, text string) {
	d.wrap(x, w, size, style, ink, text, math.Inf(1))
}

// limited is lines that stops, with an ellipsis, before it passes bottom.
func (d *document) limited(x, w, size float64, ink, text string, bottom float64) {
	d.wrap(x, w, size, "", ink, text, bottom)
}

const lineHigh = 0.43 // mm per point of size: 1.22 times the size

// height is how high limited makes text, in mm, at most so much.
func (d *document) height(text string, w, size, most float64) float64 {
	if text == "" {
		return 0
	}
	d.SetFont("text", "", size)
	return min(most, float64(len(d.split(printable(text), w)))*lineHigh*size)
}

func (d *document) wrap(x, w, size float64, style, ink, text string, bottom float64) {
	if text == "" {
		return
	}
	step := lineHigh * size
	d.SetFont("text", style, size)
	lines := d.split(printable(text), w)
	for i, line := range lines {
		if d.y+step > bottom {
			return
		}
		if i < len(lines)-1 && d.y+2*step > bottom {
			line = d.cut(line+" …", w)
		}
		d.at(x, d.y+0.8*step, size, style, ink, line)
		d.y += step
	}
}

// split breaks text at blanks into lines of at most w mm in the current font,
// and within a word only when that alone is longer.
func (d *document) split(text string, w float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' }) { // keeps no-break spaces
		if line != "" && d.GetStringWidth(line+" "+word) <= w {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		for line = word; d.GetStringWidth(line) > w; {
			runes := []rune(line)
			n := len(runes) - 1
			for n > 1 && d.GetStringWidth(string(runes[:n])) > w {
				n--
			}
			lines, line = append(lines, string(runes[:n])), string(runes[n:])
		}
	}
	return append(lines, line)
}

func (d *document) heading(x, w float64, text string) {
	d.y += 2
	d.lines(x, w, 10.5, "B", "", text)
	d.y += 0.5
}

// sign draws a verdict's shape, size mm high, as the page has it.
func (d *document) sign(x, y, size float64, v inspect.Outcome) {
	at := func(px, py float64) (float64, float64) { return x + px*size/24, y + py*size/24 }
	stroke := func(pts ...float64) {
		d.MoveTo(at(pts[0], pts[1]))
		for i := 2; i < len(pts); i += 2 {
			d.LineTo(at(pts[i], pts[i+1]))
		}
		d.DrawPath("D")
	}
	d.ink(string(v))
	switch v {
	case inspect.Pass:
		d.Circle(x+size/2, y+size/2, size*11/24, "F")
	case inspect.Fail:
		d.Rect(x+size/16, y+size/16, size*7/8, size*7/8, "F")
	case inspect.Retake:
		d.MoveTo(at(12, 1.5))
		d.LineTo(at(23.5, 22))
		d.LineTo(at(0.5, 22))
		d.ClosePath()
		d.DrawPath("F")
	}
	d.SetDrawColor(255, 255, 255)
	d.SetLineWidth(size / 9)
	d.SetLineCapStyle("round")
	switch v {
	case inspect.Pass:
		stroke(6.5, 12.5, 10.5, 16.5, 17.5, 8)
	case inspect.Fail:
		stroke(7.5, 7.5, 16.5, 16.5)
		stroke(16.5, 7.5, 7.5, 16.5)
	case inspect.Retake:
		stroke(12, 9, 12, 15)
		stroke(12, 18, 12, 19)
	}
	d.SetLineCapStyle("butt")
}

// A ground is what a drawing lies on.
type ground int

const (
	onPaper ground = iota
	overPhoto
)

// draw shows a drawing w mm wide with its top left corner at x, y.
func (d *document) draw(dr drawing, x, y, w float64, on ground) {
	k := w / dr.W
	thick := 0.3
	if on == overPhoto {
		thick = 0.25
		for _, l := range dr.Lines {
			if !isArea(l.Class) {
				d.paint(l, x, y, k, rgb{0x10, 0x14, 0x18}, rgb{}, 2.2*thick, "D", 0.8)
			}
		}
	}
	for _, l := range dr.Lines {
		style, stroke, fill, alpha := "D", d.inkOf(l.Class, on), rgb{0x10, 0x14, 0x18}, 1.0
		if isArea(l.Class) {
			style = "DF"
			switch {
			case strings.Contains(l.Class, "doubt"):
				style, fill, alpha = "F", inks["doubt"], 0.2
			case l.Colour != nil:
				fill = rgb{int(l.Colour[0]), int(l.Colour[1]), int(l.Colour[2])}
			case on == onPaper:
				fill = stroke
			}
		}
		width := thick
		if l.Class == "ring" || l.Class == "grid" || l.Class == "axis" || strings.HasSuffix(l.Class, "edge") {
			width = thick / 2
		}
		d.paint(l, x, y, k, stroke, fill, width, style, alpha)
	}
	for _, word := range dr.Words {
		style := ""
		if on == overPhoto || word.Bold {
			style = "B"
		}
		d.SetFont("text", style, 0)
		d.SetFontUnitSize(word.Size * k)
		c := d.inkOf(word.Class, on)
		text := printable(word.Text)
		wx := x + word.At.X*k - d.GetStringWidth(text)*float64(word.Align+1)/2
		wy := y + (word.At.Y+0.36*word.Size)*k
		if on == overPhoto && !strings.HasPrefix(word.Class, "tag") {
			d.SetTextColor(0x10, 0x14, 0x18)
			for _, p := range circle(pt(wx, wy), word.Size*k/10, 8) {
				d.Text(p.X, p.Y, text)
			}
		}
		d.SetTextColor(c[0], c[1], c[2])
		d.Text(wx, wy, text)
	}
}

func (d *document) inkOf(class string, on ground) rgb {
	if on == overPhoto {
		c := tint(class)
		return rgb{int(c.R), int(c.G), int(c.B)}
	}
	if c, ok := inks[strings.TrimPrefix(class, "fill ")]; ok {
		return c
	}
	return inks[""]
}

func (d *document) paint(l line, x, y, k float64, stroke, fill rgb, width float64, style string, alpha float64) {
	d.SetDrawColor(stroke[0], stroke[1], stroke[2])
	d.SetFillColor(fill[0], fill[1], fill[2])
	d.SetLineWidth(width)
	if alpha < 1 {
		d.SetAlpha(alpha, "Normal")
		defer d.SetAlpha(1, "Normal")
	}
	if l.R > 0 {
		d.Circle(x+l.Pts[0].X*k, y+l.Pts[0].Y*k, l.R*k, style)
		return
	}
	for i, p := range l.Pts {
		if i == 0 {
			d.MoveTo(x+p.X*k, y+p.Y*k)
		} else {
			d.LineTo(x+p.X*k, y+p.Y*k)
		}
	}
	if l.Closed {
		d.ClosePath()
	}
	d.DrawPath(style)
}

// image puts a JPEG file on the page, high mm high.
func (d *document) image(file []byte, x, y, w, high float64) {
	d.pictures++
	name := fmt.Sprint("picture ", d.pictures)
	jpeg := fpdf.ImageOptions{ImageType: "JPEG"}
	info := d.RegisterImageOptionsReader(name, jpeg, bytes.NewReader(file))
	if d.Ok() {
		d.SetError(ranked(info, d.pictures))
	}
	d.ImageOptions(name, x, y, w, high, false, jpeg, 0, "")
}

// ranked makes a picture a millionth of a px wider than the one before. The
// PDF writer orders pictures by width and leaves those of one width to chance,
// so the same batch would give other bytes each time; the width that it writes
// is whole. Gob is its only door to that field.
func ranked(info *fpdf.ImageInfoType, rank int) error {
	var (
		data, mask, palette []byte
		n, bits             int
		w, h, scale, dpi    float64
		space, filter, how  string
		clear               []int
	)
	fields := []any{&data, &mask, &n, &w, &h, &space, &palette, &bits, &filter, &how, &clear, &scale, &dpi}
	b, err := info.GobEncode()
	if err != nil {
		return err
	}
	dec := gob.NewDecoder(bytes.NewReader(b))
	for _, f := range fields {
		if err := dec.Decode(f); err != nil {
			return err
		}
	}
	w += 1e-6 * float64(rank)
	var out bytes.Buffer
	enc := gob.NewEncoder(&out)
	for _, f := range fields {
		if err := enc.Encode(f); err != nil {
			return err
		}
	}
	return info.GobDecode(out.Bytes())
}
