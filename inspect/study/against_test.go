package study

import (
	"strings"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect"
)

func TestSetAgainst(t *testing.T) {
	curve := func(light string, u float64, change func(deg float64) float64) *inspect.Travel {
		tr := &inspect.Travel{Light: light}
		for deg := 5.0; deg < 80; deg += 10 {
			tr.Curve = append(tr.Curve, inspect.TravelBin{ViewingDeg: deg, L: 60 - deg/4 + change(deg), A: -20, B: 10, U: u, Px: 100})
		}
		return tr
	}
	same := func(float64) float64 { return 0 }
	reference := curve("diffuse", 0.4, same)
	for _, c := range []struct {
		name string
		coat *inspect.Travel
		says []string
	}{
		{"itself", reference, []string{"No difference from the reference beyond the photos' doubt", "up to ΔE00 1."}},
		{"lighter on the face", curve("diffuse", 0.4, func(deg float64) float64 {
			if deg < 20 {
				return 6
			}
			return 0
		}), []string{"seen at 5°, 15°,", "mostly lighter, by 6.0 L*"}},
		{"darker everywhere", curve("diffuse", 0.4, func(float64) float64 { return -8 }), []string{"at all angles", "mostly darker, by 8.0 L*"}},
		{"a photo of great doubt", curve("diffuse", 6, func(float64) float64 { return -8 }), []string{"No difference"}},
		{"another light", curve("one_lamp", 0.4, same), []string{"No difference", "can be the light's"}},
	} {
		a, err := SetAgainst(c.coat, reference)
		if err != nil {
			t.Fatal(err)
		}
		for _, part := range c.says {
			if !strings.Contains(a.Says, part) {
				t.Errorf("%s: %q, want %q in it", c.name, a.Says, part)
			}
		}
		if len(a.ByAngle) != 8 {
			t.Errorf("%s: %d angles", c.name, len(a.ByAngle))
		}
	}
	// At one angle the difference is CIEDE2000's where the doubt is small beside it.
	a, err := SetAgainst(curve("diffuse", 0.01, func(float64) float64 { return -8 }), reference)
	if err != nil {
		t.Fatal(err)
	}
	want := calib.DeltaE2000(calib.Lab{L: 58.75, A: -20, B: 10}, calib.Lab{L: 50.75, A: -20, B: 10})
	if d := a.ByAngle[0]; !near(d.DeltaE00, want, 0.05) || !near(d.U, 0.4, 0.05) {
		t.Errorf("at 5°: ΔE00 %.3f ± %.3f, want %.3f ± 0.4", d.DeltaE00, d.U, want)
	}
	red := curve("diffuse", 0.4, same)
	for k := range red.Curve {
		red.Curve[k].A, red.Curve[k].B = 20, 10
	}
	if a, _ := SetAgainst(red, reference); !strings.Contains(a.Says, "mostly in hue") || !near(a.ByAngle[0].Hue, 40, 1e-9) {
		t.Errorf("red against green: %q, ΔH* %v; want hue, 40", a.Says, a.ByAngle[0].Hue)
	}
	if _, err := SetAgainst(reference, nil); err == nil {
		t.Error("a reference without colour: want an error")
	}
	if _, err := SetAgainst(reference, &inspect.Travel{Light: "diffuse"}); err == nil {
		t.Error("no angle in common: want an error")
	}
}
