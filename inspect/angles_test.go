package inspect

import (
	"image"
	"math"
	"testing"
)

// A hook leaves on the right; a shadow that hangs together with it touches the tip.
func TestOneWay(t *testing.T) {
	s := &shape{centre: image.Pt(100, 100), radius: 50}
	var hook, tip []image.Point
	for k := -10; k <= 10; k++ {
		hook = append(hook, image.Pt(180, 100+k))
	}
	for k := -6; k <= 6; k++ {
		tip = append(tip, image.Pt(100+k, 20))
	}
	got := s.oneWay(append(tip, hook...))
	if len(got) != len(hook) || got[0] != hook[0] || got[len(got)-1] != hook[len(hook)-1] {
		t.Errorf("of a hook's %d points and a tip's %d: %v", len(hook), len(tip), got)
	}
}

// A ball is cut where the collar begins, and an eye before its side was taken for head: it
// is longer across the hook, and yet the hook lies along its axis.
func TestAxisLiesAlongTheHook(t *testing.T) {
	const n = 300
	body := image.NewGray(image.Rect(0, 0, n, n))
	for i := range body.Pix {
		x, y := float64(i%n-150), float64(i/n-150)
		if x*x+y*y < 80*80 && x < 62 || math.Hypot(x+8, y+80) < 18 {
			body.Pix[i] = 255
		}
	}
	if a, _ := mainAxis(body, [2]float64{290, 150}, bodyReach*80); a.dx < 0.9 {
		t.Errorf("axis %.2f, %.2f, want along the hook, 1, 0", a.dx, a.dy)
	}
}
