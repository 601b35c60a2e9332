package inspect

import (
	"math"
	"math/rand/v2"
	"testing"

	"jigloupe/inspect/scene"
)

// One lamp, moved round a head that stays: the flakes of a colour-shift coat
// show another colour at the same places, a plain coat only another shading.
func TestLampMoved(t *testing.T) {
	t.Parallel()
	matt := marigold
	matt.GlossDeg = 90
	change := map[string][]LampChange{}
	for name, coat := range map[string]scene.Coat{"matt": matt, "colour shift": heather} {
		var photos []Photo
		var at []*places
		for k, azimuth := range []float64{40, 140} {
			spec := onCard(scene.Ball, coat)
			spec.Light = scene.OneLamp(azimuth, 50, 4800)
			spec.Seed += uint64(k)
			ph, l, _ := measured(t, spec)
			ph.View, ph.Lamp, ph.Usable = "1", []string{"", "b"}[k], true
			photos, at = append(photos, ph), append(at, l.places)
		}
		moves := lampMoves(photos, at)
		if len(moves) != 1 || moves[0].View != "1" {
			t.Fatalf("%s: %+v, want one pair of view 1", name, moves)
		}
		change[name] = moves[0].ByAngle
		t.Logf("%s: %+v", name, change[name])
		if len(change[name]) < 5 {
			t.Errorf("%s: only %d angles", name, len(change[name]))
		}
	}
	most := 0.0
	for _, c := range change["matt"] {
		if c.DeltaE00 > 1+2*c.U {
			t.Errorf("matt coat, seen at %v°: changed by ΔE00 %.1f ± %.1f, want 0", c.ViewingDeg, c.DeltaE00, 2*c.U)
		}
	}
	for _, c := range change["colour shift"] {
		most = max(most, c.DeltaE00-2*c.U)
	}
	if most < 3 {
		t.Errorf("colour-shift coat: changed by at most ΔE00 %.1f beyond doubt, want more than 3", most)
	}
}

// Noise alone is no change, and a real change comes back.
func TestLampChangesTakeNoiseOut(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 6))
	for _, real := range []float64{0, 8} {
		sum, runs := 0.0, 200
		for range runs {
			var a, b places
			for part := range ringParts {
				n := func() float64 { return random.NormFloat64() / math.Sqrt(3) }
				a[3][part] = TravelBin{L: 50 + n(), A: n(), B: 30 + n(), U: 1, Px: 500}
				b[3][part] = TravelBin{L: 50 + n(), A: real + n(), B: 30 + n(), U: 1, Px: 500}
			}
			sum += sq(lampChanges(&a, &b)[0].DeltaE00) / float64(runs)
		}
		plain := TravelBin{L: 50, A: 0, B: 30}
		want := plain.between(TravelBin{L: 50, A: real, B: 30})
		if got := math.Sqrt(sum); math.Abs(got-want) > 0.7 {
			t.Errorf("a change of ΔE00 %.1f came back as %.2f", want, got)
		}
	}
}

// Views of other sides are no pair, nor is a photo that cannot be judged.
func TestLampMovesNeedATwin(t *testing.T) {
	seen := func(view, lamp string, usable bool) Photo {
		return Photo{File: "A_" + view + lamp + ".jpg", View: view, Lamp: lamp, Usable: usable}
	}
	for _, c := range []struct {
		name   string
		photos []Photo
		want   int
	}{
		{"two sides", []Photo{seen("1", "", true), seen("2", "", true)}, 0},
		{"a pair", []Photo{seen("1", "", true), seen("1", "b", true), seen("2", "", true)}, 1},
		{"three lamps", []Photo{seen("1", "", true), seen("1", "b", true), seen("1", "c", true)}, 2},
		{"a twin that cannot be judged", []Photo{seen("1", "", true), seen("1", "b", false)}, 0},
	} {
		var at places
		for part := range ringParts {
			at[3][part] = TravelBin{ViewingDeg: 35, L: 50, U: 1, Px: 500}
		}
		if got := lampMoves(c.photos, []*places{&at, &at, &at}); len(got) != c.want {
			t.Errorf("%s: %d pairs, want %d", c.name, len(got), c.want)
		}
	}
}
