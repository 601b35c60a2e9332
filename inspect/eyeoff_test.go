package inspect

import (
	"image"
	"math"
	"slices"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// An eye that was taken for head with all that is to be seen through it comes off it, and
// the body goes on behind it.
func TestEyeComesOffTheHead(t *testing.T) {
	t.Parallel()
	for _, roll := range []float64{0, 45} {
		spec := onCard(scene.Ball, marigold)
		spec.Pieces[0].RollDeg, spec.Pieces[0].Wire.RingMM = roll, 1.6
		p, truth := shoot(t, spec)
		l, err := lookAt(p, calib.CardReflectance)
		if err != nil {
			t.Fatal(err)
		}
		mask := func() *image.Gray { return l.mask(p.Width, p.Height) }
		want := overlapOf(headOf(truth), mask())
		e, err := l.findEye(spec.MMPerPx)
		if err != nil || e.ring == nil {
			t.Fatalf("roll %g°: no eye, %v", roll, err)
		}
		angles, stem := slices.Clone(l.angles.Pix), e.stem(l)
		for i := range l.shape.head.Pix {
			if x, y := e.onGrid(l, i); e.ring.outside(x, y) < 1 || stem.holds(x, y) {
				l.shape.head.Pix[i], l.shape.wire.Pix[i] = 255, 0
			}
		}
		l.revolve(l.body())
		with := overlapOf(headOf(truth), mask())
		if err := e.offHead(l); err != nil {
			t.Fatal(err)
		}
		got := overlapOf(headOf(truth), mask())
		if want < 0.95 || with > want-0.03 || got < want-0.005 {
			t.Errorf("roll %g°: overlap %.3f, with the eye %.3f, after it is off %.3f", roll, want, with, got)
		}
		off, all := 0, 0
		for i, a := range l.angles.Pix {
			if a != unseenAngle && angles[i] != unseenAngle {
				all++
				if math.Abs(float64(a-angles[i])) > 5 {
					off++
				}
			}
		}
		if 20*off > all {
			t.Errorf("roll %g°: %d of %d viewing angles are off by more than 5°", roll, off, all)
		}
	}
}
