package inspect

import (
	"bytes"
	"encoding/json"
	"errors"
	"image"
	"image/png"
	"math"
	"slices"
	"sync"
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

// onCard is one head on a card under a tent, 20 × 16 mm at 25 µm to the pixel.
func onCard(style scene.Style, coat scene.Coat) scene.Spec {
	return scene.Spec{
		Seed: 7, Width: 800, Height: 640, MMPerPx: 0.025, Card: &scene.Card{}, Light: scene.Tent(5600),
		Camera: scene.Camera{Exposure: 0.9, BlurPx: 0.8, FullWell: 12000, ReadNoise: 8},
		Pieces: []scene.Piece{{
			Seed: 3, Coat: coat, Base: scene.NoBase, X: -3, TurnDeg: 20, TiltDeg: 2,
			Head: scene.Head{Style: style, WidthMM: 7, CollarMM: 2.4, Lips: 1},
			Wire: scene.Wire{WidthMM: 0.8},
		}},
	}
}

// shoot draws a photo, only once for all tests that draw the same, and reads it from its
// file anew each time: measuring a photo closes it.
func shoot(t testing.TB, spec scene.Spec) (*calib.Photo, scene.Truth) {
	t.Helper()
	key, err := json.Marshal(spec)
	if err != nil {
		t.Fatal(err)
	}
	first, _ := shots.LoadOrStore(string(key), sync.OnceValue(func() shot {
		picture, truth := scene.Render(spec)
		return shot{encoded(picture), truth}
	}))
	s := first.(func() shot)()
	p, err := calib.Decode(s.file)
	if err != nil {
		t.Fatal(err)
	}
	return p, s.truth
}

var shots sync.Map // by the spec as JSON: func() shot

type shot struct {
	file  []byte
	truth scene.Truth
}

// encoded is a PNG of the picture; packing it would take longer than drawing it.
func encoded(picture image.Image) []byte {
	var file bytes.Buffer
	plain := png.Encoder{CompressionLevel: png.NoCompression}
	if err := plain.Encode(&file, picture); err != nil {
		panic(err) // there is memory for it, and no picture is empty
	}
	return file.Bytes()
}

func measured(t *testing.T, spec scene.Spec) (Photo, *look, scene.Truth) {
	t.Helper()
	p, truth := shoot(t, spec)
	ph, l, err := measurePhoto(p, spec.MMPerPx)
	if err != nil {
		t.Fatal(err)
	}
	return ph, l, truth
}

// measurePhoto measures a photo; an error says why it is refused.
func measurePhoto(p *calib.Photo, mm float64) (Photo, *look, error) { return measureLit(p, mm, false) }

// measureTwin measures a photo that has a lamp-moved twin.
func measureTwin(p *calib.Photo, mm float64) (Photo, *look, error) { return measureLit(p, mm, true) }

func measureLit(p *calib.Photo, mm float64, twinned bool) (Photo, *look, error) {
	ph := Photo{File: "x.png", ScaleMMPerPx: &mm}
	l, err := lookAt(p, calib.CardReflectance)
	if err != nil {
		return ph, nil, err
	}
	if wrong := l.check(&ph, p); len(wrong) > 0 {
		return ph, l, errors.New(wrong[0])
	}
	l.flatten()
	eye, err := l.findEye(mm)
	if err != nil {
		return ph, l, err
	}
	return ph, l, l.measure(&ph, eye, BatchFile{}, twinned)
}

// headOf is the head as drawn, painted or bare.
func headOf(truth scene.Truth) *image.Gray {
	m := image.NewGray(truth.Mask.Rect)
	for i, class := range truth.Mask.Pix {
		if class == scene.ClassPainted || class == scene.ClassBare {
			m.Pix[i] = 255
		}
	}
	return m
}

// lookOver looks at a drawn photo; overlap is that of the head found and the true one.
func lookOver(t *testing.T, spec scene.Spec) (l *look, overlap float64) {
	t.Helper()
	p, truth := shoot(t, spec)
	l, err := lookAt(p, calib.CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	return l, overlapOf(headOf(truth), l.mask(p.Width, p.Height))
}

// overlapOf is the share of what either mask marks that both mark (P. Jaccard,
// New Phytol. 11(2), 37–50, 1912). A mask may be cut to what it marks.
func overlapOf(a, b *image.Gray) float64 {
	both, either := 0, 0
	frame := a.Rect.Union(b.Rect)
	for y := frame.Min.Y; y < frame.Max.Y; y++ {
		for x := frame.Min.X; x < frame.Max.X; x++ {
			inA, inB := a.GrayAt(x, y).Y != 0, b.GrayAt(x, y).Y != 0
			if inA && inB {
				both++
			}
			if inA || inB {
				either++
			}
		}
	}
	return float64(both) / float64(either)
}

// Closed forms: a block n px long shifted by k has (n−k)/(n+k), a square of
// side b inside one of side a has (b/a)².
func TestOverlap(t *testing.T) {
	block := func(r image.Rectangle) *image.Gray {
		m := image.NewGray(image.Rect(0, 0, 20, 20))
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				m.Pix[y*m.Stride+x] = 255
			}
		}
		return m
	}
	ten := block(image.Rect(2, 2, 12, 12))
	for _, c := range []struct {
		name string
		to   image.Rectangle
		want float64
	}{
		{"itself", image.Rect(2, 2, 12, 12), 1},
		{"shifted by 1", image.Rect(3, 2, 13, 12), 9.0 / 11},
		{"shifted by 5", image.Rect(7, 2, 17, 12), 5.0 / 15},
		{"a square of 6 inside", image.Rect(4, 4, 10, 10), 0.36},
		{"apart", image.Rect(12, 12, 20, 20), 0},
	} {
		if got := overlapOf(ten, block(c.to)); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestHeadAndViewingAngles(t *testing.T) {
	t.Parallel()
	var overlaps []float64
	for _, style := range []scene.Style{scene.Ball, scene.Football, scene.Bullet} {
		for name, coat := range map[string]scene.Coat{"colour shift": heather, "plain": marigold} {
			p, truth := shoot(t, onCard(style, coat))
			l, err := lookAt(p, calib.CardReflectance)
			if err != nil {
				t.Errorf("%s, %s: %v", style, name, err)
				continue
			}
			want, got := image.NewGray(truth.Mask.Rect), image.NewGray(truth.Mask.Rect)
			errors, n := 0.0, 0
			for y := range p.Height {
				for x := range p.Width {
					class := truth.Mask.GrayAt(x, y).Y
					isHead := class == 1 || class == 2
					found := false
					if q := (y-l.Rect.Min.Y)/l.Step*l.Width + (x-l.Rect.Min.X)/l.Step; x >= l.Rect.Min.X && x < l.Rect.Max.X && y >= l.Rect.Min.Y && y < l.Rect.Max.Y && (x-l.Rect.Min.X)/l.Step < l.Width && q < len(l.shape.head.Pix) {
						found = l.shape.head.Pix[q] != 0
						if found && isHead && !l.onCollar(q) {
							b := truth.Box
							if deg := float64(truth.ViewingDeg[(y-b.Min.Y)*b.Dx()+x-b.Min.X]); deg < 60 {
								errors += math.Abs(float64(l.angles.Pix[q]) - deg)
								n++
							}
						}
					}
					if isHead {
						want.Pix[y*want.Stride+x] = 255
					}
					if found {
						got.Pix[y*got.Stride+x] = 255
					}
				}
			}
			overlap, off := overlapOf(want, got), errors/float64(n)
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
	t.Parallel()
	plain, _, _ := measured(t, onCard(scene.Ball, heather))
	half := onCard(scene.Ball, heather)
	half.Camera.Exposure /= 2
	tinted := onCard(scene.Ball, heather)
	tinted.Camera.Gains = scene.RGB{1.1, 1, 0.87}
	moved := onCard(scene.Ball, heather)
	moved.Pieces[0].X += 40 * moved.MMPerPx
	turned := onCard(scene.Ball, heather)
	turned.Pieces[0].TurnDeg += 90
	for name, c := range map[string]struct {
		spec scene.Spec
		most float64 // ΔE00
	}{
		// measured 0.2 to 0.8: other noise draws another outline, by a px or two, and other angles with it
		"half the exposure":     {half, 1},
		"another white balance": {tinted, 1.5},
		"a turn by 90°":         {turned, 1.5},
		"a shift by 40 px":      {moved, 1},
	} {
		ph, _, _ := measured(t, c.spec)
		worst := 0.0
		for k := range min(len(ph.Travel.Curve), len(plain.Travel.Curve)) {
			worst = max(worst, plain.Travel.Curve[k].between(ph.Travel.Curve[k]))
		}
		t.Logf("%s: colour moves by %.2f ΔE00 at most", name, worst)
		if worst > c.most {
			t.Errorf("%s moves the colour by %.2f ΔE00, want %.1f at most", name, worst, c.most)
		}
	}
}

func TestBareSpotsComeBack(t *testing.T) {
	t.Parallel()
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

// A patch that faces the camera covers all that is seen at small angles, so the
// coat must not be learnt from it.
func TestPatchInTheMiddle(t *testing.T) {
	t.Parallel()
	for name, coat := range map[string]scene.Coat{"colour shift": heather, "plain": marigold} {
		for _, mm := range []float64{1.3, 2.2, 3.2} {
			spec := onCard(scene.Ball, coat)
			spec.Pieces[0].Bare = []scene.Bare{{At: scene.Place{Facing: true}, WidthMM: mm, SoftMM: 0.2}}
			ph, _, truth := measured(t, spec)
			t.Logf("%s, %.1f mm: %.2f %% is bare, found %.2f %%", name, mm, truth.BareAreaPct, *ph.Coverage.BareAreaPct)
			if got, want := *ph.Coverage.BareAreaPct, truth.BareAreaPct; math.Abs(got-want) > 0.15*want {
				t.Errorf("%s, a patch of %.1f mm in the middle: %.2f %% bare, want %.2f %%", name, mm, got, want)
			}
		}
	}
}

func TestLumpOnTheOutline(t *testing.T) {
	t.Parallel()
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
	t.Parallel()
	spec := onCard(scene.Ball, marigold)
	spec.Pieces[0].Relief = scene.Pinholes(5, 8, 0.3, scene.Place{AlongMM: -0.5, Facing: true}, 1.5)
	ph, _, _ := measured(t, spec)
	t.Logf("8 drawn, %d found", *ph.Relief.Pinholes)
	if n := *ph.Relief.Pinholes; n < 6 || n > 9 {
		t.Errorf("8 pinholes drawn, %d found", n)
	}
}
