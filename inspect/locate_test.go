package inspect

import (
	"image"
	"strings"
	"testing"
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
