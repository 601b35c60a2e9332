package inspect

import (
	"image"
	"math"
	"testing"

	"jigloupe/calib/cv"
)

// A ball's outline goes on round a shadow at its side, 40 px farther out than the ball.
func TestGiveBack(t *testing.T) {
	for _, c := range []struct {
		name string
		rim  float64 // edge round the ball, see drawnTones
		end  float32 // how steep the shadow ends, log level per px
		want bool
	}{
		{"a soft shadow", 0.3, 0.3 * softEdge, true},
		{"what ends at an edge is a part of the head", 0.3, 3 * softEdge, false},
		{"no line between the two", 0, 0.3 * softEdge, false},
		{"a line that is hardly sure", 0.2, 0.3 * softEdge, false},
	} {
		tn := drawnTones(t, func(float64) float64 { return c.rim })
		ball, head, edge := image.NewGray(image.Rect(0, 0, tn.w, tn.h)), image.NewGray(image.Rect(0, 0, tn.w, tn.h)), cv.NewPlane(tn.w, tn.h)
		shadow := 0
		for i := range head.Pix {
			x, y := float64(i%tn.w-150), float64(i/tn.w-130)
			r, aside := math.Hypot(x, y), math.Abs(math.Atan2(y, x)) < 0.5
			if r < 80 {
				ball.Pix[i], head.Pix[i] = 255, 255
			} else if aside && r < 120 {
				head.Pix[i] = 255
				shadow++
			}
			if math.Abs(r-80) < 2 {
				edge.Pix[i] = 3 * softEdge
			}
			if aside && math.Abs(r-120) < 2 {
				edge.Pix[i] = c.end
			}
		}
		want := head
		if c.want {
			want = ball
		}
		want = &image.Gray{Pix: append([]uint8(nil), want.Pix...), Stride: tn.w, Rect: head.Rect}
		l := ballLook(t, tn, head)
		l.edge = edge
		if err := l.giveBack(func() (cv.Plane, bool, error) {
			edge, err := l.tones.coherentEdges(nil)
			return edge, l.sharp(), err
		}); err != nil {
			t.Fatal(err)
		}
		if off := 1 - overlapOf(want, l.shape.head); off > 0.03 {
			t.Errorf("%s: %.2f of the head is missing or too much, the shadow is %.2f of it", c.name, off, float64(shadow)/(math.Pi*80*80))
		}
		if r := l.shape.radius; c.want && math.Abs(r-80) > 3 {
			t.Errorf("%s: the largest circle in it has a radius of %.1f px", c.name, r)
		}
	}
}
