package inspect

import (
	"image"
	"math"
	"strings"
	"testing"

	"jigloupe/calib"
)

// What no piece was found at is told from a piece that reaches over the card's edge.
func TestOverTheEdge(t *testing.T) {
	hull := image.NewGray(image.Rect(0, 0, 100, 75))
	for y := 10; y < 65; y++ {
		for x := 10; x < 90; x++ {
			hull.Pix[y*hull.Stride+x] = 255
		}
	}
	for _, c := range []struct {
		bounds image.Rectangle // photo px, four to one of the hull's
		want   bool
	}{
		{image.Rect(100, 100, 200, 180), true},
		{image.Rect(100, 20, 200, 180), false},
		{image.Rect(300, 200, 380, 290), false},
		{image.Rect(-8, 100, 100, 180), false},
	} {
		if got := (place{Bounds: c.bounds}).onCard(hull, 4); got != c.want {
			t.Errorf("%v is on the card: %v", c.bounds, got)
		}
	}
	if says := unusable(errOverEdge); !strings.Contains(says, "in the middle of the card") {
		t.Errorf("a piece over the edge: %q", says)
	}
}

// A coloured table that a hook leads to from the card is no part of the piece.
func TestHookOverTable(t *testing.T) {
	const w, h, edge = 400, 300, 280 // px; the card ends at x = edge
	p := patch{&calib.Linear{Rect: image.Rect(0, 0, w, h), Width: w, Height: h, Step: 1, Pix: make([]float32, 3*w*h)}, calib.CardReflectance}
	hull := image.NewGray(p.Rect)
	head, table := 0, 0
	at := place{Centre: image.Pt(150, 150), Radius: 60, core: 30, Bounds: image.Rect(90, 90, 210, 210)}
	onHead := func(x, y int) bool { return math.Hypot(float64(x-150), float64(y-150)) < 60 }
	for i := range w * h {
		x, y := i%w, i/w
		rgb := [3]float32{0.18, 0.18, 0.18}
		switch {
		case onHead(x, y) || y > 140 && y < 160 && x > 150 && x < edge:
			rgb = [3]float32{0.3, 0.15, 0.05}
		case x >= edge:
			rgb = [3]float32{0.05, 0.1, 0.3}
		}
		if x < edge {
			hull.Pix[i] = 255
		}
		copy(p.Pix[3*i:], rgb[:])
	}
	tn, edges, err := tonesAndEdges(p, outlineSigma)
	if err != nil {
		t.Fatal(err)
	}
	mask, _, err := pieceMask(p, tn, edges, at, &calib.GreyCard{Reduced: &calib.Linear{Step: 1}}, hull)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range mask.Pix {
		switch x, y := i%w, i/w; {
		case v == 0:
		case onHead(x, y):
			head++
		case x > edge+3*cutBlock:
			table++
		}
	}
	if area := math.Pi * 60 * 60; float64(head) < 0.95*area || table > 0 {
		t.Errorf("%.2f of the head is piece, and %.2f of the table", float64(head)/area, float64(table)/float64((w-edge)*h))
	}
}
