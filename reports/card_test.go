package reports

import (
	"bytes"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"jigloupe/inspect"
)

func cardOf(t *testing.T, r *inspect.Results, dir, title string, pieces ...string) *Card {
	t.Helper()
	var chosen []inspect.Piece
	for _, p := range r.Pieces {
		for _, name := range pieces {
			if p.Piece == name {
				chosen = append(chosen, p)
			}
		}
	}
	c, err := NewCard(title, chosen, dir)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The picture's fields have the measured colours to the code, and one that no
// screen shows has its corner cut; the same card gives the same bytes.
func TestCardPicture(t *testing.T) {
	dir := t.TempDir()
	c := cardOf(t, trial(t, dir), dir, "dusk teal", "K01", "K02")
	c.Travel.Curve[2] = inspect.TravelBin{ViewingDeg: 25, L: 50, A: -90, B: -60, U: 1} // outside
	path := filepath.Join(dir, "card.png")
	var files [2][]byte
	for i := range files {
		if err := WriteCardPNG(path, c); err != nil {
			t.Fatal(err)
		}
		files[i], _ = os.ReadFile(path)
	}
	if !bytes.Equal(files[0], files[1]) {
		t.Error("writing twice gives different bytes")
	}
	m, err := png.Decode(bytes.NewReader(files[0]))
	if err != nil {
		t.Fatal(err)
	}
	if b := m.Bounds(); b.Dx() != 1200 || b.Dy() != 1500 {
		t.Fatalf("%v, want 1200 by 1500", b)
	}
	at := func(x, y float64) color.NRGBA { return color.NRGBAModel.Convert(m.At(int(x), int(y))).(color.NRGBA) }
	top := 0.0
	for _, l := range c.layout().Lines {
		if l.Class == "fill swatch" {
			top = l.Pts[0].Y
			break
		}
	}
	white := color.NRGBA{255, 255, 255, 255}
	for i, b := range c.Travel.Curve {
		want, inGamut := screen(b)
		if got := at(c.column(i), top+60); got != (color.NRGBA{want[0], want[1], want[2], 255}) {
			t.Errorf("field at %.0f°: %v, want %v", b.ViewingDeg, got, want)
		}
		step := c.column(1) - c.column(0)
		if corner := at(c.column(i)+step/2-6, top+4); (corner == white) == inGamut {
			t.Errorf("field at %.0f°: corner %v, in gamut %v", b.ViewingDeg, corner, inGamut)
		}
	}
	if c.Travel.Curve[0].ViewingDeg != 5 || at(30, 700) != white {
		t.Error("the margin is not white")
	}
}

// In the photo the card has the colour of its reflectance: sRGB 118 for 18 %.
func TestCardPhotoIsReferredToTheCard(t *testing.T) {
	dir := t.TempDir()
	c := cardOf(t, trial(t, dir), dir, "K01", "K01")
	m, err := c.crop()
	if err != nil {
		t.Fatal(err)
	}
	edge := edgeColour(m) // the fixture's card is lit unevenly: its median counts
	for _, v := range []uint8{edge.R, edge.G, edge.B} {
		if v < 116 || v > 120 {
			t.Errorf("the card around the head is %v, want about 118 each", edge)
			break
		}
	}
}

func TestCardPDF(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	c, one := cardOf(t, r, dir, "dusk teal", "K01", "K02"), cardOf(t, r, dir, "K03", "K03")
	if err := c.Compare("K03 of the same batch", one.Travel); err != nil {
		t.Fatal(err)
	}
	for _, paper := range []string{"A4", "Letter"} {
		path := filepath.Join(dir, "cards-"+paper+".pdf")
		if err := WriteCardPDF(path, []*Card{c, one}, r.Tool, paper); err != nil {
			t.Fatal(err)
		}
		text, boxes := words(t, path)
		for _, part := range []string{"dusk teal", "mean of 2 pieces", "Travel ΔE00", "without shading", "hue turns", "grey card of 18 %", "5200 K", "Screens differ",
			"wash your hands", "Differs from the reference", "above: dusk teal, below: K03 of the same batch", "viewing angle"} {
			if !strings.Contains(text, part) {
				t.Errorf("%s: %q is not in the text", paper, part)
			}
		}
		if pages := boxes[len(boxes)-1].page; pages != 2 {
			t.Errorf("%s: %d pages, want 2", paper, pages)
		}
	}
}

// Whatever the names, no word leaves the card.
func TestCardKeepsLongNames(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	long := strings.Repeat("dusk teal over a midnight base ", 8)
	c := cardOf(t, r, dir, long, "K01", "K02", "K03")
	if err := c.Compare(long, c.Travel); err != nil {
		t.Fatal(err)
	}
	for _, w := range c.layout().Words {
		wide := cardWidth(w.Text, w.Size, w.Bold)
		left := w.At.X - wide*float64(w.Align+1)/2
		if left < 0 || left+wide > cardWide || w.At.Y > cardHigh-20 {
			t.Errorf("%q reaches from %.0f to %.0f at %.0f", w.Text, left, left+wide, w.At.Y)
		}
	}
}

func TestCardNeedsAColour(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	if _, err := NewCard("K04", r.Pieces[3:4], dir); err == nil || !strings.Contains(err.Error(), "no colour was measured") {
		t.Errorf("a piece without colour: %v", err)
	}
	c := cardOf(t, r, dir, "K01", "K01")
	os.RemoveAll(filepath.Join(dir, "pictures"))
	if err := WriteCardPNG(filepath.Join(dir, "card.png"), c); err == nil || !strings.Contains(err.Error(), "grade the batch again") {
		t.Errorf("pictures gone: %v", err)
	}
}
