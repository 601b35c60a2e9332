package inspect

import (
	"math"
	"testing"

	"jigloupe/inspect/scene"
)

// Holes seen slantwise are light and dark side by side: by what is dark alone 11 of these 30
// were found.
func TestHolesSeenSlantwise(t *testing.T) {
	t.Parallel()
	n, found := 0, 0
	for _, c := range []struct {
		coat  scene.Coat
		light scene.Light
	}{{marigold, curveLights[2]}, {curveCoats[4], curveLights[3]}, {curveCoats[5], curveLights[2]}} {
		spec := onCard(scene.Ball, c.coat)
		spec.Light = c.light
		spec.Pieces[0].Relief = scene.Pinholes(8, 10, 0.28, scene.Place{AlongMM: -0.3, AroundDeg: 45, Facing: true}, 1.8)
		ph, _, truth := measured(t, spec)
		others := *ph.Relief.Pinholes
		for _, h := range truth.Relief {
			n++
			for _, f := range ph.ReliefFaults {
				if f.Kind == "pinhole" && math.Hypot(f.X-h.X, f.Y-h.Y)*spec.MMPerPx < 0.2 {
					found, others = found+1, others-1
					break
				}
			}
		}
		if others > 1 {
			t.Errorf("%d pinholes are found that are none", others)
		}
	}
	if t.Logf("%d of %d found", found, n); found < 20 {
		t.Errorf("%d of %d holes are found, want 20", found, n)
	}
}
