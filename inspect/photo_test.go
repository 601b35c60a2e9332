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

// An eye that covers the outline is no sag of the coat: drawn rolled by 60° it stood
// 0.69 mm out.
func TestEyeOnOutline(t *testing.T) {
	t.Parallel()
	spec := onCard(scene.Ball, marigold)
	spec.Pieces[0].RollDeg, spec.Pieces[0].X = 60, 0
	spec.Pieces[0].Wire = scene.Wire{WidthMM: 0.9, RingMM: 2}
	ph, _, _ := measured(t, spec)
	if len(ph.ReliefFaults) > 0 || ph.Relief.OutlineDeviationMM == nil {
		t.Errorf("%+v, deviation %v", ph.ReliefFaults, ph.Relief.OutlineDeviationMM)
	}
}
