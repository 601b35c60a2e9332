package inspect

import (
	"image"
	"testing"

	"jigloupe/calib/cv"
)

// What lies across a collar's end and is wider than wire belongs to the head, where a
// sharp border says that it is no shadow; the hook behind it doesn't.
func TestEndOfCollar(t *testing.T) {
	const side = 220
	collar, band, hook := image.Rect(110, 65, 150, 95), image.Rect(150, 62, 160, 98), image.Rect(160, 77, 200, 83)
	for _, c := range []struct {
		name string
		edge float32 // log ratio along all borders
		want bool
	}{{"bare metal", 0.5, true}, {"a shadow", softEdge, false}} {
		frame := image.Rect(0, 0, side, side)
		head, wire := image.NewGray(frame), image.NewGray(frame)
		for i := range head.Pix {
			p := image.Pt(i%side, i/side)
			switch d := p.Sub(image.Pt(80, 80)); {
			case d.X*d.X+d.Y*d.Y < 40*40 || p.In(collar):
				head.Pix[i] = 255
			case p.In(band) || p.In(hook):
				wire.Pix[i] = 255
			}
		}
		depth, err := cv.Distance(head)
		if err != nil {
			t.Fatal(err)
		}
		l := &look{edge: flatPlane(side, c.edge), root: [2]float64{160, 80}}
		l.shape = &shape{w: side, h: side, head: head, wire: wire, depth: depth, clear: flatPlane(side, 9), centre: image.Pt(80, 80), radius: 40, gauge: 3}
		if err := l.endOfCollar(); err != nil {
			t.Fatal(err)
		}
		on := func(x, y int) bool { return head.GrayAt(x, y).Y != 0 }
		if got := on(155, 70) && on(155, 90); got != c.want {
			t.Errorf("%s: the band is on the head: %v", c.name, got)
		}
		if on(180, 80) || wire.GrayAt(180, 80).Y == 0 {
			t.Errorf("%s: the hook is no wire any more", c.name)
		}
	}
}
