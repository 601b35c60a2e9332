package inspect

import (
	"bytes"
	"image/png"
	"math"
	"slices"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// These checks set what lookAt and its measures find against photographs drawn
// by inspect/scene, whose truth is known. Bounds are what was measured on the
// day the check was written, rounded up, unless a reason stands beside them.

var (
	heather  = scene.Coat{Flake: scene.ColourShift(302), FlakeShare: 0.62, Pigment: scene.RGB{0.05, 0.04, 0.08}, SpreadDeg: 9, Sparkle: 0.5}
	marigold = scene.Coat{Pigment: scene.RGB{0.72, 0.3, 0.02}, HalfUM: 9}
)

// onCard is one head on a card under a tent, 25 µm to the pixel.
func onCard(style scene.Style, coat scene.Coat) scene.Spec {
	return scene.Spec{
		Seed: 7, Width: 1000, Height: 800, MMPerPx: 0.025, Card: &scene.Card{}, Light: scene.Tent(5600),
		Camera: scene.Camera{Exposure: 0.9, BlurPx: 0.8, FullWell: 12000, ReadNoise: 8},
		Pieces: []scene.Piece{{
			Seed: 3, Coat: coat, Base: scene.NoBase, X: -3, TurnDeg: 20, TiltDeg: 2,
			Head: scene.Head{Style: style, WidthMM: 7, CollarMM: 2.4, Lips: 1},
			Wire: scene.Wire{WidthMM: 0.8},
		}},
	}
}

// shoot draws a photo and reads it back through a file.
func shoot(t *testing.T, spec scene.Spec) (*calib.Photo, scene.Truth) {
	t.Helper()
	picture, truth := scene.Render(spec)
	var file bytes.Buffer
	if err := png.Encode(&file, picture); err != nil {
		t.Fatal(err)
	}
	p, err := calib.Decode(file.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	return p, truth
}

func measured(t *testing.T, spec scene.Spec) (Photo, *look, scene.Truth) {
	t.Helper()
	p, truth := shoot(t, spec)
	l, err := lookAt(p, calib.CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	ph := Photo{File: "x.png", ScaleMMPerPx: &spec.MMPerPx}
	if wrong := l.check(&ph, p); len(wrong) > 0 {
		t.Fatalf("refused: %v", wrong)
	}
	if err := l.measure(&ph, BatchFile{}, DefaultLimits()); err != nil {
		t.Fatal(err)
	}
	return ph, l, truth
}

func TestHeadAndViewingAngles(t *testing.T) {
	var overlaps []float64
	for _, style := range []scene.Style{scene.Ball, scene.Football, scene.Bullet} {
		for name, coat := range map[string]scene.Coat{"colour shift": heather, "plain": marigold} {
			p, truth := shoot(t, onCard(style, coat))
			l, err := lookAt(p, calib.CardReflectance)
			if err != nil {
				t.Errorf("%s, %s: %v", style, name, err)
				continue
			}
			both, either, errors, n := 0, 0, 0.0, 0
			for y := range p.Height {
				for x := range p.Width {
					class := truth.Mask.GrayAt(x, y).Y
					isHead := class == 1 || class == 2
					found := false
					if q := (y-l.Rect.Min.Y)/l.Step*l.Width + (x-l.Rect.Min.X)/l.Step; x >= l.Rect.Min.X && x < l.Rect.Max.X && y >= l.Rect.Min.Y && y < l.Rect.Max.Y && (x-l.Rect.Min.X)/l.Step < l.Width && q < len(l.shape.head.Pix) {
						found = l.shape.head.Pix[q] != 0
						if found && isHead && !l.onCollar(q) {
							b := truth.Box
							if want := float64(truth.ViewingDeg[(y-b.Min.Y)*b.Dx()+x-b.Min.X]); want < 60 {
								errors += math.Abs(float64(l.angles.Pix[q]) - want)
								n++
							}
						}
					}
					if isHead && found {
						both++
					}
					if isHead || found {
						either++
					}
				}
			}
			overlap, off := float64(both)/float64(either), errors/float64(n)
			t.Logf("%s, %s: overlap %.3f, viewing angle off by %.1f° on average over 0 to 60°", style, name, overlap, off)
			overlaps = append(overlaps, overlap)
			if off > 5 { // what a travel curve in bins of 10° can bear
				t.Errorf("%s, %s: viewing angle off by %.1f°, want 5° at most", style, name, off)
			}
		}
	}
	slices.Sort(overlaps)
	if m := overlaps[len(overlaps)/2]; m < 0.95 {
		t.Errorf("heads overlap the true ones by %.3f in the median, want 0.95", m)
	}
	if overlaps[0] < 0.78 { // the bullet in the colour shift loses its collar
		t.Errorf("the worst head overlaps the true one by %.3f, want 0.78", overlaps[0])
	}
}

// The card takes exposure and white balance out: half the light, or light of
// another tint, is the same coat.
func TestTravelIsTheCoats(t *testing.T) {
	plain, _, _ := measured(t, onCard(scene.Ball, heather))
	half := onCard(scene.Ball, heather)
	half.Camera.Exposure /= 2
	for name, spec := range map[string]scene.Spec{"half the exposure": half} {
		ph, _, _ := measured(t, spec)
		worst := 0.0
		for k := range min(len(ph.Travel.Curve), len(plain.Travel.Curve)) {
			worst = max(worst, plain.Travel.Curve[k].between(ph.Travel.Curve[k]))
		}
		t.Logf("%s: colour moves by %.2f ΔE00 at most", name, worst)
		if worst > 1.5 { // eight bits in the dark and twice the relative noise
			t.Errorf("%s moves the colour by %.2f ΔE00, want 1.5 at most", name, worst)
		}
	}
}

func TestBareSpotsComeBack(t *testing.T) {
	for _, mm := range []float64{0.6, 0.9, 1.3} {
		spec := onCard(scene.Ball, marigold)
		spec.Pieces[0].Bare = []scene.Bare{{At: scene.Place{AlongMM: -0.5, AroundDeg: 10, Facing: true}, WidthMM: mm, SoftMM: 0.1}}
		ph, _, truth := measured(t, spec)
		if len(truth.BareSpots) != 1 {
			t.Fatalf("the scene drew %d spots", len(truth.BareSpots))
		}
		want, got := truth.BareSpots[0].DiameterMM, 0.0
		for _, s := range ph.BareSpots {
			got = max(got, *s.DiameterMM)
		}
		t.Logf("drawn %.2f mm, found %.2f mm", want, got)
		if math.Abs(got-want) > 0.15*want+0.05 { // blur of 2.4 px at either edge
			t.Errorf("a bare spot of %.2f mm comes back as %.2f mm", want, got)
		}
	}
	ph, _, _ := measured(t, onCard(scene.Ball, marigold))
	if slices.ContainsFunc(ph.BareSpots, func(s BareSpot) bool { return *s.DiameterMM >= 0.5 }) {
		t.Errorf("a clean head has bare spots: %+v", ph.BareSpots)
	}
}

func TestLumpOnTheOutline(t *testing.T) {
	for _, mm := range []float64{0.4, 0.6, 0.8} {
		spec := onCard(scene.Ball, marigold)
		spec.Pieces[0].Relief = []scene.Relief{{Kind: scene.Lump, At: scene.Place{AlongMM: -1, AroundDeg: 90, Facing: true}, WidthMM: 3, HeightMM: mm}}
		ph, _, truth := measured(t, spec)
		if ph.Relief.OutlineDeviationMM == nil {
			t.Errorf("a lump of %.2f mm: outline not measured", truth.OutlineMM)
			continue
		}
		got := *ph.Relief.OutlineDeviationMM
		t.Logf("drawn %.2f mm, found %.2f mm", truth.OutlineMM, got)
		if math.Abs(got-truth.OutlineMM) > 0.15 {
			t.Errorf("a lump of %.2f mm on the outline comes back as %.2f mm", truth.OutlineMM, got)
		}
	}
}

func TestPinholesComeBack(t *testing.T) {
	spec := onCard(scene.Ball, marigold)
	spec.Pieces[0].Relief = scene.Pinholes(5, 8, 0.3, scene.Place{AlongMM: -0.5, Facing: true}, 1.5)
	ph, _, _ := measured(t, spec)
	t.Logf("8 drawn, %d found", ph.Relief.Pinholes)
	if ph.Relief.Pinholes < 6 || ph.Relief.Pinholes > 9 {
		t.Errorf("8 pinholes drawn, %d found", ph.Relief.Pinholes)
	}
}
