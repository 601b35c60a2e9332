package inspect

import (
	"image"
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
