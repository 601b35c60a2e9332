package inspect

import (
	"testing"

	"jigloupe/inspect/scene"
)

// An eye in front of the head is not painted: the mask leaves it out, and the head's
// area with it.
func TestMaskWithoutEye(t *testing.T) {
	t.Parallel()
	spec := onCard(scene.Ball, marigold)
	spec.Pieces[0].RollDeg = 90
	_, l, truth := measured(t, spec)
	m := l.mask(spec.Width, spec.Height)
	if overlap := overlapOf(headOf(truth), m); len(l.behindEye) == 0 || overlap < 0.97 { // 0.958 with the eye
		t.Errorf("the eye hides %d px of the head, overlap %.3f", len(l.behindEye), overlap)
	}
	var h Head
	mm := 0.02
	if h.sizeOf(m, &mm); h.AreaPx < 1000 || *h.AreaMM2 != float64(h.AreaPx)*mm*mm {
		t.Errorf("an area of %d px, %.2f mm²", h.AreaPx, *h.AreaMM2)
	}
}
