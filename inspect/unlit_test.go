package inspect

import (
	"math"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// Of a black head in gloss nothing but glints has a colour or is lighter than the card: what
// holds them is the piece.
func TestBlackHead(t *testing.T) {
	t.Parallel()
	spec := onCard(scene.Ball, scene.Coat{Pigment: scene.RGB{0.012, 0.01, 0.01}, GlossDeg: 12})
	spec.Light = scene.Softbox(60, 5000)
	spec.Pieces[0].TurnDeg = 40
	p, _ := shoot(t, spec)
	l, err := lookAt(p, calib.CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	if r, want := l.shape.radius*spec.MMPerPx*float64(l.Step), spec.Pieces[0].Head.WidthMM/2; math.Abs(r-want) > 0.1*want {
		t.Errorf("its radius is %.2f mm, want %.2f", r, want)
	}
}
