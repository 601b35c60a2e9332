package inspect

import (
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// What the light was is known of drawn photos. "unknown" is allowed for a few,
// the wrong kind for none.
func TestLightIsRecognised(t *testing.T) {
	t.Parallel()
	lights := []struct {
		name  string
		light scene.Light
		want  string
	}{
		{"tent", scene.Tent(5600), "diffuse"},
		{"softbox", scene.Softbox(60, 5000), "one_lamp"},
		{"bare lamp", scene.OneLamp(200, 45, 4200), "one_lamp"},
		{"window", scene.Window(130), "one_lamp"},
	}
	known, all := map[string]int{}, map[string]int{}
	for name, coat := range map[string]scene.Coat{"colour shift": heather, "plain": marigold} {
		for _, style := range []scene.Style{scene.Ball, scene.Bullet} {
			for _, c := range lights {
				// the balls are TestPlainCoatHasNoShift's; of the bullets the plain one shades like its ball
				if style != scene.Ball && c.want != "diffuse" && (testing.Short() || name == "plain") {
					continue
				}
				spec := onCard(style, coat)
				spec.Light = c.light
				p, _ := shoot(t, spec)
				l, err := lookAt(p, calib.CardReflectance)
				if err != nil {
					t.Errorf("%s %s under a %s: %v", name, style, c.name, err)
					continue
				}
				got := l.light()
				sectors, tilt, _ := l.shading()
				t.Logf("%s %s under a %s: %s, sectors %.3f, tilt %.3f", name, style, c.name, got, sectors, tilt)
				all[c.want]++
				switch got {
				case c.want:
					known[got]++
				case "unknown":
				default:
					t.Errorf("%s %s under a %s: %s (sectors %.3f, tilt %.3f), want %s", name, style, c.name, got, sectors, tilt, c.want)
				}
			}
		}
	}
	if known["diffuse"] < all["diffuse"] || 2*known["one_lamp"] < all["one_lamp"] {
		t.Errorf("known are %v of %v, want all diffuse ones and half of the others", known, all)
	}
}

func TestCommonLight(t *testing.T) {
	for _, c := range []struct {
		lights []string
		want   string
	}{
		{[]string{"diffuse", "diffuse"}, "diffuse"}, {[]string{"unknown", "one_lamp"}, "one_lamp"}, {[]string{"unknown"}, "unknown"},
		{[]string{"diffuse", "one_lamp"}, "unknown"}, {[]string{"diffuse", "one_lamp", "diffuse"}, "unknown"},
	} {
		var travels []*Travel
		for _, l := range c.lights {
			travels = append(travels, &Travel{Light: l})
		}
		if got := commonLight(travels); got != c.want {
			t.Errorf("%v together are %s, want %s", c.lights, got, c.want)
		}
	}
}
