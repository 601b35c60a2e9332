package reports

import (
	"image"
	"image/color"
	"image/draw"
	"slices"
	"strings"
	"sync"

	"codeberg.org/go-fonts/dejavu/dejavusanscondensed"
	"codeberg.org/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/disintegration/imaging"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// onPage draws on white, a unit of the drawing to a px, with the inks and the
// letters that the PDF has.
func onPage(d drawing) *image.NRGBA {
	dst := imaging.New(int(d.W), int(d.H), color.White)
	for _, l := range d.Lines {
		ink := inkOf(l.Class)
		switch {
		case !isArea(l.Class):
			stroke(dst, l.polygon(), l.Closed, strokeWidth(l.Class), ink)
			continue
		case strings.Contains(l.Class, "doubt"):
			ink.A = 51 // a fifth, as in the PDF
			polygons(dst, [][]inspect.Point{l.polygon()}, ink)
			continue
		case l.Colour != nil:
			polygons(dst, [][]inspect.Point{l.polygon()}, color.NRGBA{l.Colour[0], l.Colour[1], l.Colour[2], 255})
		default:
			polygons(dst, [][]inspect.Point{l.polygon()}, ink)
		}
		stroke(dst, l.polygon(), true, strokeWidth(l.Class), ink)
	}
	for _, w := range d.Words {
		f := cardFace(w.Size, w.Bold)
		text := printable(w.Text)
		x := w.At.X - float64(font.MeasureString(f, text))/64*float64(w.Align+1)/2
		drawer := font.Drawer{Dst: dst, Face: f, Src: image.NewUniform(inkOf(w.Class)),
			Dot: fixed.Point26_6{X: fixed.Int26_6(x * 64), Y: fixed.Int26_6((w.At.Y + 0.36*w.Size) * 64)}}
		drawer.DrawString(text)
	}
	return dst
}

func strokeWidth(class string) float64 {
	if class == "grid" || class == "axis" || strings.HasSuffix(class, "swatch") {
		return 1.2
	}
	return 2.4
}

func inkOf(class string) color.NRGBA {
	c, ok := inks[strings.TrimPrefix(class, "fill ")]
	if !ok {
		c = inks[""]
	}
	return color.NRGBA{uint8(c[0]), uint8(c[1]), uint8(c[2]), 255}
}

var cardFonts = sync.OnceValue(func() (fonts [2]*opentype.Font) {
	for i, ttf := range [][]byte{dejavusanscondensed.TTF, dejavusanscondensedbold.TTF} {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic(err) // the font is part of the program
		}
		fonts[i] = f
	}
	return fonts
})

func cardFace(size float64, bold bool) font.Face {
	f := cardFonts()[0]
	if bold {
		f = cardFonts()[1]
	}
	made, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72})
	if err != nil {
		panic(err) // only for a size that is no number
	}
	return made
}

func cardWidth(text string, size float64, bold bool) float64 {
	return float64(font.MeasureString(cardFace(size, bold), printable(text))) / 64
}

// fitSize is the font size, at most size, at which bold text is no wider than wide.
func fitSize(text string, size, wide float64) float64 {
	return min(size, size*wide/max(cardWidth(text, size, true), 1))
}

// shortened ends text that is too wide with an ellipsis.
func shortened(text string, size, wide float64) string {
	if cardWidth(text, size, false) <= wide {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && cardWidth(string(runes)+"…", size, false) > wide {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// wrapped breaks text into lines no wider than wide.
func wrapped(text string, size, wide float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(plain(text)) {
		if line != "" && cardWidth(line+" "+word, size, false) > wide {
			lines, line = append(lines, line), ""
		}
		line = strings.TrimSpace(line + " " + word)
	}
	return append(lines, line)
}

// balanced cuts the head out of its picture, w by h px, and multiplies its
// light so that the card around it has the colour of its reflectance: photo and
// measured colours then show the same light. Around the picture's edge lies
// the card; where that cannot be, its light is left as it is.
func balanced(m image.Image, ph *inspect.Photo, w, h int) *image.NRGBA {
	b := ph.Head.BBox
	middle := place(ph, float64(b[0])+float64(b[2])/2, float64(b[1])+float64(b[3])/2)
	// As much of the hook as there is, but the whole head with some card around it.
	head := 1.15 * ph.Picture.Scale * max(float64(b[3]), float64(b[2])*float64(h)/float64(w))
	pw, pht := float64(m.Bounds().Dx()), float64(m.Bounds().Dy())
	high := max(min(pht, pw*float64(h)/float64(w), 2.2*head), head)
	wide := high * float64(w) / float64(h)
	middle.X, middle.Y = inward(middle.X, wide, pw), inward(middle.Y, high, pht)
	window := image.Rect(int(middle.X-wide/2), int(middle.Y-high/2), int(middle.X+wide/2), int(middle.Y+high/2))
	canvas := beyond(m, window)
	out := imaging.Resize(canvas, w, h, imaging.Lanczos)
	if ph.Card != nil && ph.Card.Reflectance > 0 {
		calib.Relight(out, edgeColour(m), ph.Card.Reflectance)
	}
	return out
}

// inward moves the middle of a stretch so that it lies within 0 and end, if it
// is no longer than that.
func inward(middle, long, end float64) float64 {
	if long > end {
		return middle
	}
	return min(max(middle, long/2), end-long/2)
}

// beyond cuts a window out of a picture; outside of it the card at its edge
// goes on. Whatever is thin where it leaves the picture, such as a wire, ends.
func beyond(m image.Image, window image.Rectangle) *image.NRGBA {
	src := imaging.Clone(m)
	b := src.Bounds()
	canvas := imaging.New(window.Dx(), window.Dy(), color.White)
	if !window.In(b) {
		rows := [2][]color.NRGBA{card(src, b.Dx(), func(i int) (x, y int) { return i, 0 }), card(src, b.Dx(), func(i int) (x, y int) { return i, b.Dy() - 1 })}
		columns := [2][]color.NRGBA{card(src, b.Dy(), func(i int) (x, y int) { return 0, i }), card(src, b.Dy(), func(i int) (x, y int) { return b.Dx() - 1, i })}
		for y := range window.Dy() {
			for x := range window.Dx() {
				at := image.Pt(x, y).Add(window.Min)
				switch {
				case at.Y < 0 || at.Y >= b.Dy():
					canvas.SetNRGBA(x, y, rows[min(max(at.Y, 0), 1)][min(max(at.X, 0), b.Dx()-1)])
				case at.X < 0 || at.X >= b.Dx():
					canvas.SetNRGBA(x, y, columns[min(max(at.X, 0), 1)][at.Y])
				}
			}
		}
	}
	draw.Draw(canvas, b.Sub(window.Min), src, image.Point{}, draw.Src)
	return canvas
}

// card is the colour of the card along n px of an edge: a running median over
// two thirds of it, which hook and eye do not move.
func card(src *image.NRGBA, n int, at func(i int) (x, y int)) []color.NRGBA {
	out := make([]color.NRGBA, n)
	for i := range out {
		var each [3][]uint8
		wide := max(2*n/3, 1)
		lo := min(max(i-wide/2, 0), n-wide)
		for j := lo; j < lo+wide; j++ {
			c := src.NRGBAAt(at(j))
			each[0], each[1], each[2] = append(each[0], c.R), append(each[1], c.G), append(each[2], c.B)
		}
		for k := range each {
			slices.Sort(each[k])
		}
		out[i] = color.NRGBA{each[0][len(each[0])/2], each[1][len(each[1])/2], each[2][len(each[2])/2], 255}
	}
	return out
}

// edgeColour is the median colour along the edge of a picture.
func edgeColour(m image.Image) color.NRGBA {
	var each [3][]uint8
	b := m.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if x-b.Min.X >= 8 && b.Max.X-x > 8 && y-b.Min.Y >= 8 && b.Max.Y-y > 8 {
				continue
			}
			c := color.NRGBAModel.Convert(m.At(x, y)).(color.NRGBA)
			each[0], each[1], each[2] = append(each[0], c.R), append(each[1], c.G), append(each[2], c.B)
		}
	}
	var out [3]uint8
	for k := range each {
		slices.Sort(each[k])
		out[k] = each[k][len(each[k])/2]
	}
	return color.NRGBA{out[0], out[1], out[2], 255}
}
