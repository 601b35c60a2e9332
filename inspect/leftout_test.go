package inspect

import (
	"image"
	"math"
	"slices"
	"testing"

	"jigloupe/calib"
	"jigloupe/calib/cv"
)

// ballLook is a look at drawnTones whose outline is that of head.
func ballLook(t *testing.T, tn *tones, head *image.Gray) *look {
	t.Helper()
	clear := cv.NewPlane(tn.w, tn.h)
	for i := range clear.Pix {
		clear.Pix[i] = 90
	}
	piece, err := solidOf(head)
	if err != nil {
		t.Fatal(err)
	}
	pix := make([]float32, 0, 3*tn.w*tn.h)
	for _, v := range tn.level[1].Pix {
		pix = append(pix, v, v, v)
	}
	return &look{patch: patch{&calib.Linear{Width: tn.w, Height: tn.h, Step: 1, Pix: pix}, 1}, tones: tn, axis: axis{x: 150, y: 130, dy: 1},
		shape: &shape{w: tn.w, h: tn.h, head: head, lip: image.NewGray(head.Rect), wire: image.NewGray(head.Rect), depth: piece.depth,
			clear: clear, centre: image.Pt(150, 130), radius: 80, gauge: 4}}
}

// A ball that glitters, drawn whole; its outline leaves out a bite on one side, which is
// the head's where an edge goes round it that is surer than the outline.
func TestTakeIn(t *testing.T) {
	all := func(float64) float64 { return 0.3 }
	none := func(d float64) float64 { return map[bool]float64{true: 0, false: 0.3}[math.Abs(d) < 0.6] }
	for _, c := range []struct {
		name string
		firm float64
		edge func(direction float64) float64
		bite float64 // its light, of the ball's
		want bool
	}{
		{"edge round the bite", leastFirm, all, 1, true},
		{"none there", leastFirm, none, 1, false},
		{"a steady outline through nothing", steady, all, 1, true},
		{"a steady outline along an edge", steady, all, 1.3, false},
	} {
		tn := drawnTones(t, c.edge)
		dark := tn.plane[1].Pix
		for i := range dark {
			dark[i] += float32(math.Log(0.6)) // as in shade: what is lighter than metal is none
		}
		empty := func() *image.Gray { return image.NewGray(image.Rect(0, 0, tn.w, tn.h)) }
		whole, head := empty(), empty()
		for i := range head.Pix {
			x, y := float64(i%tn.w-150), float64(i/tn.w-130)
			if math.Hypot(x, y) < 80 {
				whole.Pix[i] = 255
				if math.Hypot(x-80, y) > 20 {
					head.Pix[i] = 255
				} else {
					tn.level[1].Pix[i] *= float32(c.bite)
				}
			}
		}
		before := slices.Clone(head.Pix)
		l := ballLook(t, tn, head)
		l.firm = c.firm
		places, err := l.aside()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := l.takeIn(l, places); err != nil {
			t.Fatal(err)
		}
		want := before
		if c.want {
			want = whole.Pix
		}
		off := 0
		for i, v := range want {
			if v != l.shape.head.Pix[i] {
				off++
			}
		}
		if bite := 0.5 * math.Pi * 20 * 20; float64(off) > 0.2*bite {
			t.Errorf("%s: %d px of about %.0f are still missing or too many", c.name, off, bite)
		}
	}
}

// Lines as firm as those on drawn photos with known truth.
func TestGivesWay(t *testing.T) {
	for _, c := range []struct {
		name            string
		firm, line, own float64
		want            bool
	}{
		{"shadow along a wedge", 0.54, 3.4, 5.8, false},
		{"shadow from a collar to the body", 0.55, 4.0, 7.9, false},
		{"side of a grey head", 0.50, 5.6, 7.2, true},
		{"line through noise", 0.50, 1.3, 1.2, false},
		{"the same beside a steady outline", 0.80, 5.6, 7.2, false},
		{"metal beside a steady outline", 0.91, 9.6, 2.5, true},
	} {
		if got := (&look{firm: c.firm}).givesWay(c.line, c.own); got != c.want {
			t.Errorf("%s: the outline gives way: %v", c.name, got)
		}
	}
}
