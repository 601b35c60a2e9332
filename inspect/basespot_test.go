package inspect

import "testing"

// A white base takes the coat's place; a lamp's mirror image adds its light to it, and
// only where the surface can mirror a lamp.
func TestLightBase(t *testing.T) {
	violet, dark := [3]float64{0.9, 0.4, 2.4}, [3]float64{0.1, 0.14, 0.12}
	for _, c := range []struct {
		name    string
		base    string
		coat    [3]float64 // relative to card
		share   float64    // of it that is left
		white   float64    // added
		angle   float32    // degrees
		clipped float64
		want    bool
	}{
		{"a white base", "white", violet, 0, 4.3, 20, 0, true},
		{"a lamp in its gloss", "white", violet, 1, 3, 20, 0, false},
		{"no base under it", "none", violet, 0, 4.3, 20, 0, false},
		{"at the camera's limit", "white", violet, 0, 4.3, 20, 0.3, false},
		{"metal", "white", violet, 0, 0.5, 20, 0, false},
		{"under a dark coat, which a lamp's light would drown", "white", dark, 0, 4.3, 20, 0, false},
		{"too steep for any lamp", "white", dark, 0, 2.9, 60, 0, true},
	} {
		l, b, sp := spotIn(disc, levels{}, 1)
		l.base, l.angles, sp.clipped = c.base, flatPlane(80, c.angle), c.clipped
		for j := range b.coats {
			for k, v := range c.coat {
				b.coats[j][k] = v + toe
			}
		}
		for _, i := range sp.pixels {
			for k, v := range c.coat {
				l.tones.level[k].Pix[i] = float32(c.share*v + c.white)
			}
		}
		sp.level = float64(l.tones.level[1].Pix[sp.pixels[0]])
		if got := b.isLightBase(l, sp); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

func TestShows(t *testing.T) {
	b := &BatchFolder{Pieces: []BatchRow{{"A01", map[string]string{"base": "White, cured"}}, {"A02", map[string]string{"base": "black"}}, {"A03", nil}}}
	for _, c := range []struct {
		piece string
		light bool
		want  string
	}{{"A01", true, "white base"}, {"A01", false, "metal"}, {"A02", false, "metal or black base"}, {"A03", false, "metal"}} {
		l := &look{base: b.baseOf(c.piece)}
		if got := l.shows(c.light); got != c.want {
			t.Errorf("%s: %q, want %q", c.piece, got, c.want)
		}
	}
}
