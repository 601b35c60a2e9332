package inspect

import (
	"image"
	"math"
	"testing"
)

// What stands out of the head on one side only is no bare spot of it, but for a head cast so.
func TestSticksOut(t *testing.T) {
	const n, r = 200, 60
	for _, c := range []struct {
		name string
		long float64 // px that the other side lacks along the axis
		y    int     // of the spot
		want bool
	}{
		{"on a foot of the eye", 24, 163, true},
		{"beside it, on the head", 24, 150, false},
		{"on a keel", 80, 163, false},
	} {
		l := &look{shape: &shape{w: n, h: n, radius: r, head: image.NewGray(image.Rect(0, 0, n, n))}, axis: axis{x: n / 2, y: n / 2, dx: 1}}
		for i := range l.shape.head.Pix {
			x, y := float64(i%n-n/2), float64(i/n-n/2)
			if math.Hypot(x, y) < r || math.Abs(x) < c.long/2 && y > 0 && y < r+10 {
				l.shape.head.Pix[i] = 255
			}
		}
		var sp spot
		for y := c.y - 3; y < c.y+4; y++ {
			for x := n/2 - 5; x < n/2+5; x++ {
				sp.pixels = append(sp.pixels, y*n+x)
			}
		}
		sp.blob.X, sp.blob.Y = n/2, float64(c.y)
		if got := l.sticksOut(sp); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
