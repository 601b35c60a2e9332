package inspect

import (
	"math"
	"testing"

	"jigloupe/inspect/scene"
)

// TestPartsOfAHead names places whose part follows from how the head was drawn.
func TestPartsOfAHead(t *testing.T) {
	t.Parallel()
	for _, turn := range []float64{20, 150} {
		spec := onCard(scene.Ball, marigold)
		spec.Pieces[0].TurnDeg, spec.Pieces[0].X = turn, 0
		spec.Pieces[0].Head = scene.Head{Style: scene.Ball, WidthMM: 7.2, CollarMM: 3.2, Lips: 2, SocketMM: 2}
		spec.Pieces[0].Wire = scene.Wire{WidthMM: 0.8, ShankMM: 7, GapMM: 6.5, RingMM: 1.5}
		ph, l, truth := measured(t, spec)
		p := spec.Pieces[0]
		sin, cos := math.Sincos(turn * math.Pi / 180)
		eye := truth.Eyes[0]
		if ph.EyeAt == nil {
			t.Fatalf("turned by %.0f°: the eye was not found", turn)
		}
		// at is a place on the axis, mm from the thickest part towards the hook
		at := func(mm float64) Point {
			return Point{float64(spec.Width)/2 + mm*cos/spec.MMPerPx, float64(spec.Height)/2 - mm*sin/spec.MMPerPx}
		}
		middle := at(0)
		toEye := math.Hypot(eye.X-middle.X, eye.Y-middle.Y)
		rim := 0.92 * p.Head.WidthMM / 2 / spec.MMPerPx / toEye // of the way to the eye
		for _, c := range []struct {
			place Point
			want  string
		}{
			{middle, "of the body"},
			{at(0.5 * p.Head.WidthMM / 2), "of the body"},
			{at(-0.9 * p.Head.WidthMM / 2), "near the tip"},
			{at(p.Head.LipMM(0)), "of the collar"},
			{Point{middle.X + rim*(eye.X-middle.X), middle.Y + rim*(eye.Y-middle.Y)}, "beside the eye"},
		} {
			if got := l.part(c.place.X, c.place.Y, ph.EyeAt); got != c.want {
				t.Errorf("turned by %.0f°: part(%.0f, %.0f) = %q, want %q", turn, c.place.X, c.place.Y, got, c.want)
			}
			dark := Photo{EyeAt: ph.EyeAt, DarkSpots: []BareSpot{{X: c.place.X, Y: c.place.Y, Place: "on an edge"}}}
			if l.sayPlaces(&dark); dark.DarkSpots[0].Place != "on an edge "+c.want {
				t.Errorf("a dark spot there lies %q", dark.DarkSpots[0].Place)
			}
		}
	}
}
