package reports

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"strings"
	"sync"

	"codeberg.org/go-fonts/dejavu/dejavusansbold"
	"github.com/disintegration/imaging"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"jigloupe/inspect"
)

// Draw returns picture, the plain cut-out that ph.Picture describes, with the
// head's outline, the 30° and 60° viewing angles, every fault numbered, the eye
// and a scale bar drawn over it. Every stroke is light in a dark halo, so that
// it shows on any coat. A photo without a cut-out comes back undrawn.
func Draw(picture image.Image, ph inspect.Photo) image.Image {
	out := quick(imaging.Clone(picture))
	if ph.Picture != nil {
		paint(out, marked(&ph))
	}
	return out
}

// quick returns an opaque picture as the type that drawing has a quick way
// for, on the same samples. With a transparent one it can't, and
// returns it as it is.
func quick(m *image.NRGBA) draw.Image {
	if !m.Opaque() {
		return m
	}
	return &image.RGBA{Pix: m.Pix, Stride: m.Stride, Rect: m.Rect}
}

// Tints of the marks. Amber and sky blue stay apart for every kind of colour
// vision (Okabe and Ito, Color Universal Design, 2008).
var (
	tints = map[string]color.NRGBA{"bare": {0xff, 0xb3, 0x1a, 255}, "relief": {0x7c, 0xd0, 0xff, 255}, "eye": {0xf5, 0xec, 0x6e, 255}}
	light = color.NRGBA{0xff, 0xff, 0xff, 255}
	dark  = color.NRGBA{0x10, 0x14, 0x18, 0xe0}
)

func tint(class string) color.NRGBA {
	for name, c := range tints {
		if strings.Contains(class, name) {
			return c
		}
	}
	return light
}

func paint(dst draw.Image, d drawing) {
	thick := max(max(d.W, d.H)/300, 1.2)
	for _, halo := range []bool{true, false} {
		for _, l := range d.Lines {
			if isArea(l.Class) {
				continue
			}
			w, c := thick, tint(l.Class)
			if l.Class == "ring" || strings.HasSuffix(l.Class, "edge") {
				w = thick / 2
			}
			if halo {
				w, c = w+1.4*thick, dark
			}
			stroke(dst, l.polygon(), l.Closed, w, c)
		}
	}
	for _, l := range d.Lines {
		if isArea(l.Class) {
			polygons(dst, [][]inspect.Point{l.polygon()}, dark)
			stroke(dst, l.polygon(), true, thick, tint(l.Class))
		}
	}
	for _, w := range d.Words {
		write(dst, w, tint(w.Class))
	}
}

// stroke fills a box along every stretch and a disc at every joint.
func stroke(dst draw.Image, pts []inspect.Point, closed bool, width float64, c color.Color) {
	var parts [][]inspect.Point
	for i, b := range pts {
		parts = append(parts, circle(b, width/2, 12))
		if i == 0 && !closed {
			continue
		}
		a := pts[(i+len(pts)-1)%len(pts)]
		l := math.Hypot(b.X-a.X, b.Y-a.Y)
		if l == 0 {
			continue
		}
		dx, dy := (b.X-a.X)/l*width/2, (b.Y-a.Y)/l*width/2
		// Turned the same way round as circle, so that overlaps add up to 1 and do not cancel.
		parts = append(parts, []inspect.Point{{X: a.X + dy, Y: a.Y - dx}, {X: b.X + dy, Y: b.Y - dx}, {X: b.X - dy, Y: b.Y + dx}, {X: a.X - dy, Y: a.Y + dx}})
	}
	polygons(dst, parts, c)
}

// polygons fills the union of polygons that turn the same way round.
func polygons(dst draw.Image, parts [][]inspect.Point, c color.Color) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, part := range parts {
		for _, p := range part {
			x0, y0, x1, y1 = min(x0, p.X), min(y0, p.Y), max(x1, p.X), max(y1, p.Y)
		}
	}
	if !(x1-x0 < 1e5 && y1-y0 < 1e5) { // also no points at all, and NaN
		return
	}
	b := image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1)), int(math.Ceil(y1))).Intersect(dst.Bounds())
	if b.Empty() {
		return
	}
	r := vector.NewRasterizer(b.Dx(), b.Dy())
	for _, part := range parts {
		for i, p := range part {
			x, y := float32(p.X-float64(b.Min.X)), float32(p.Y-float64(b.Min.Y))
			if i == 0 {
				r.MoveTo(x, y)
			} else {
				r.LineTo(x, y)
			}
		}
		r.ClosePath()
	}
	r.Draw(dst, b, image.NewUniform(c), image.Point{})
}

var bold = sync.OnceValue(func() *opentype.Font {
	f, err := opentype.Parse(dejavusansbold.TTF)
	if err != nil {
		panic(err) // the font is part of the program
	}
	return f
})

func face(size float64) font.Face {
	f, err := opentype.NewFace(bold(), &opentype.FaceOptions{Size: size, DPI: 72})
	if err != nil {
		panic(err) // only for a size that is no number
	}
	return f
}

// textWidth is in the unit of size.
func textWidth(text string, size float64) float64 {
	const ref = 64 // measured large, so that rounding to 1/64 px does not matter
	return float64(font.MeasureString(refFace(), text)) / 64 / ref * size
}

var refFace = sync.OnceValue(func() font.Face { return face(64) })

func write(dst draw.Image, w word, c color.Color) {
	f := face(w.Size)
	wide := float64(font.MeasureString(f, w.Text)) / 64
	x := w.At.X - wide*float64(w.Align+1)/2
	y := w.At.Y + 0.36*w.Size // half the height of DejaVu's capitals, 0.73 em
	d := font.Drawer{Dst: dst, Face: f}
	if !strings.HasPrefix(w.Class, "tag") {
		d.Src = image.NewUniform(dark)
		for _, p := range circle(pt(x, y), max(w.Size/10, 1), 8) {
			d.Dot = fixed.Point26_6{X: fixed.Int26_6(p.X * 64), Y: fixed.Int26_6(p.Y * 64)}
			d.DrawString(w.Text)
		}
	}
	d.Src = image.NewUniform(c)
	d.Dot = fixed.Point26_6{X: fixed.Int26_6(x * 64), Y: fixed.Int26_6(y * 64)}
	d.DrawString(w.Text)
}
