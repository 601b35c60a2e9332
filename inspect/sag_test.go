package inspect

import (
	"math"
	"slices"
	"testing"

	"jigloupe/inspect/scene"
)

// What hangs on the outline comes back with its name and height, on the bright
// side of the head and in its own shadow.
func TestSagsComeBack(t *testing.T) {
	side := scene.Place{AlongMM: -1, AroundDeg: 90, Facing: true}
	for _, c := range []struct {
		name   string
		light  scene.Light
		relief scene.Relief
		want   []string
	}{
		{"lump on the side", curveLights[0], scene.Relief{Kind: scene.Lump, At: side, WidthMM: 2, HeightMM: 0.5}, []string{"lump"}},
		{"lump in the shadow", curveLights[1], scene.Relief{Kind: scene.Lump, At: side, WidthMM: 2, HeightMM: 0.5}, []string{"lump"}},
		{"sag on the side", curveLights[0], scene.Relief{Kind: scene.Sag, At: side, WidthMM: 5, HeightMM: 0.6}, []string{"sag"}},
		{"run along the side", curveLights[0], scene.Relief{Kind: scene.Run, At: side, WidthMM: 1.2, LengthMM: 4, HeightMM: 0.4}, []string{"lump", "sag"}},
	} {
		spec := onCard(scene.Ball, marigold)
		spec.Light = c.light
		spec.Pieces[0].Relief = []scene.Relief{c.relief}
		ph, _, truth := measured(t, spec)
		if ph.Relief.OutlineDeviationMM == nil {
			t.Errorf("%s: the outline was not measured", c.name)
			continue
		}
		mm, u := *ph.Relief.OutlineDeviationMM, *ph.Relief.U
		var kinds []string
		for _, f := range ph.ReliefFaults {
			kinds = append(kinds, f.Kind)
		}
		t.Logf("%s: %.2f mm, found %q, %.2f ± %.2f mm", c.name, truth.OutlineMM, kinds, mm, u)
		if !slices.ContainsFunc(c.want, func(k string) bool { return slices.Contains(kinds, k) }) {
			t.Errorf("%s is found as %q, want %q", c.name, kinds, c.want)
		}
		if math.Abs(mm-truth.OutlineMM) > 2*u {
			t.Errorf("%s stands out %.2f mm, found %.2f ± %.2f mm", c.name, truth.OutlineMM, mm, u)
		}
	}
}
