package inspect

import (
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// phone is a camera that lifts the middle, steepens it and makes colours vivid;
// none of it is of the form that is fitted.
var phone = scene.Camera{Exposure: 0.8, BlurPx: 0.8, FullWell: 12000, ReadNoise: 8, Lift: 0.1, Tone: 0.25, Vivid: 0.15}

// sheetPhoto is a photo of a printed sheet on the card.
func sheetPhoto(camera scene.Camera, light scene.Light, sheets ...scene.Flat) scene.Spec {
	return scene.Spec{Seed: 5, Width: 600, Height: 450, MMPerPx: 0.2, Card: &scene.Card{}, Light: light, Camera: camera, Flats: sheets}
}

// otherColours are none of the target's, of a lightness and chroma that paints have.
func otherColours() []calib.Lab {
	random := rand.New(rand.NewPCG(9, 4))
	var out []calib.Lab
	for len(out) < 24 {
		c := calib.Lab{L: 20 + 65*random.Float64(), A: 100 * (random.Float64() - 0.5), B: 100 * (random.Float64() - 0.5)}
		if l := c.LinearRGB(); min(l.R, l.G, l.B) > 0.01 && max(l.R, l.G, l.B) < 0.8 {
			out = append(out, c)
		}
	}
	return out
}

// meanOff is how far the colours of a sheet of 6 by 4 come back, as ΔE00: the mean
// and the worst.
func meanOff(t *testing.T, s *Setup, spec scene.Spec, want []calib.Lab) (mean, worst float64) {
	t.Helper()
	p, _ := shoot(t, spec)
	if left, _, mind := s.undo(p, calib.CardReflectance); len(mind) > 0 || (s == nil) != (left.From == "") {
		t.Fatalf("left %+v, %q", left, mind)
	}
	card, err := calib.FindCard(p, calib.CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	lin := *card.Reduced
	card.Reflect(&lin)
	const pitch = 60.0 * 9 / 55 // mm, see scene.Patches
	for i, c := range want {
		x := (float64(i%6)-2.5)*pitch/spec.MMPerPx + float64(spec.Width)/2
		y := (float64(i/6)-1.5)*pitch/spec.MMPerPx + float64(spec.Height)/2
		var sum [3]float64
		const reach = 5
		for dy := -reach; dy <= reach; dy++ {
			for dx := -reach; dx <= reach; dx++ {
				for k, v := range lin.At(int(x)/lin.Step+dx, int(y)/lin.Step+dy) {
					sum[k] += float64(v) / (2*reach + 1) / (2*reach + 1)
				}
			}
		}
		d := calib.DeltaE2000(c, calib.LinearRGB{R: sum[0], G: sum[1], B: sum[2]}.Lab())
		mean, worst = mean+d/float64(len(want)), max(worst, d)
	}
	return mean, worst
}

func newSetup(t *testing.T, spec scene.Spec, o SetupOptions) (*Setup, error) {
	t.Helper()
	dir := t.TempDir()
	writeShot(t, dir, "target.png", spec)
	return NewSetup(filepath.Join(dir, "target.png"), o)
}

// What is learnt from the target, lying askew in one light, brings other colours
// nearer to the truth in another light and exposure, and about as near as it says.
func TestSetup(t *testing.T) {
	target := scene.Target24(60)
	target.TurnDeg = 190
	s, err := newSetup(t, sheetPhoto(phone, scene.Softbox(40, 5000), target), SetupOptions{})
	if err != nil {
		t.Fatal(err)
	}
	other := phone
	other.Exposure = 0.6
	spec := sheetPhoto(other, scene.Window(200), scene.Patches(otherColours(), 6, 60))
	before, worstBefore := meanOff(t, nil, spec, otherColours())
	after, worst := meanOff(t, s, spec, otherColours())
	t.Logf("other colours: off by %.2f in the mean, %.2f at worst; undone %.2f and %.2f; the fit says %.2f and %.2f, before %.2f",
		before, worstBefore, after, worst, s.DeltaE00, s.WorstDeltaE00, s.Without)
	if before < 2 || after > 0.5 || worst > 2 {
		t.Errorf("other colours are off by %.2f, after it by %.2f, want below 0.5", before, after)
	}
	if after > 3*s.DeltaE00 || s.DeltaE00 > 0.5 {
		t.Errorf("the fit says %.2f, other colours are off by %.2f", s.DeltaE00, after)
	}
}

// A target that is no better known than to 1.5 ΔE00 must not teach a true camera to
// bend.
func TestSetupOfATrueCamera(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	colours := calib.Target24()
	for i := range colours {
		for _, v := range []*float64{&colours[i].L, &colours[i].A, &colours[i].B} {
			*v += random.NormFloat64()
		}
	}
	camera := scene.Camera{Exposure: 0.8, BlurPx: 0.8, FullWell: 12000, ReadNoise: 8}
	s, err := newSetup(t, sheetPhoto(camera, scene.Tent(5600), scene.Patches(colours, 6, 60)), SetupOptions{})
	if err != nil || !s.Plain() || s.Without < 0.8 || s.Without > 2.5 || s.DeltaE00 != s.Without || !strings.Contains(s.note(), "leaves tones") {
		t.Errorf("%v, %+v, want nothing undone", err, s)
	}
}

// Found whichever way it lies and however large it is; the middles of its corners
// do as well; where there is none, none is found.
func TestFindTarget(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ turn, width, tilt float64 }{{0, 60, 0}, {35, 45, 0}, {90, 60, 0}, {-100, 30, 0}, {10, 60, 12}} {
		target := scene.Target24(c.width)
		target.TurnDeg, target.TiltDeg, target.TowardDeg, target.DistanceMM = c.turn, c.tilt, 30, 300
		s, err := newSetup(t, sheetPhoto(phone, scene.Tent(5000), target), SetupOptions{})
		if err != nil || s.DeltaE00 > 0.5 || s.Without < 1.5 {
			t.Errorf("turned by %v°, %v mm wide, tilted by %v°: %v, %+v", c.turn, c.width, c.tilt, err, s)
		}
	}
	pitch := 60.0 * 9 / 55 / 0.2 // px
	left, right, top, bottom := 300-2.5*pitch, 300+2.5*pitch, 225-1.5*pitch, 225+1.5*pitch
	corners := [4][2]float64{{left, top}, {right, top}, {right, bottom}, {left, bottom}}
	if s, err := newSetup(t, sheetPhoto(phone, scene.Tent(5000), scene.Target24(60)), SetupOptions{Corners: &corners}); err != nil || s.DeltaE00 > 0.5 {
		t.Errorf("by its corners: %v, %+v", err, s)
	}
	for name, sheets := range map[string][]scene.Flat{
		"nothing":       nil,
		"other colours": {scene.Patches(otherColours(), 6, 60)},
		"two rows":      {scene.Patches(calib.Target24()[:12], 6, 60)},
	} {
		if s, err := newSetup(t, sheetPhoto(phone, scene.Tent(5000), sheets...), SetupOptions{}); !errors.Is(err, calib.ErrNoTarget) {
			t.Errorf("%s: %v, %+v, want no target", name, err, s)
		}
	}
}

// Two or three greys beside the card mend the lightness of others.
func TestSetupByGreys(t *testing.T) {
	grey := func(share float64) calib.Lab { return calib.LinearRGB{R: share, G: share, B: share}.Lab() }
	camera := phone
	camera.Vivid = 0
	var ramp []calib.Lab
	for i := range 24 {
		ramp = append(ramp, grey(0.04+0.6*float64(i)/23))
	}
	known := scene.Patches([]calib.Lab{grey(0.05), grey(0.4), grey(0.7)}, 3, 60)
	s, err := newSetup(t, sheetPhoto(camera, scene.Tent(5000), known), SetupOptions{
		Greys: []GreyPatch{{203, 225, 0.05}, {300, 225, 0.4}, {397, 225, 0.7}}})
	if err != nil {
		t.Fatal(err)
	}
	spec := sheetPhoto(camera, scene.Tent(5000), scene.Patches(ramp, 6, 60))
	before, _ := meanOff(t, nil, spec, ramp)
	after, _ := meanOff(t, s, spec, ramp)
	if before < 1.2 || after > before/3 {
		t.Errorf("greys are off by %.2f, after it by %.2f, want less than a third", before, after)
	}
}

// Undone is only what the same camera did.
func TestSetupOfAnotherCamera(t *testing.T) {
	s := &Setup{Photo: "target.png", Camera: "One", Profile: "sRGB", Card: 0.18, Fit: calib.Fit{DeltaE00: 0.4}, Tone: calib.Tone{Bend: []float64{0.2}}}
	for _, c := range []struct {
		camera, profile string
		card            float64
		used            bool
		says            string
	}{
		{"One", "sRGB", 0.18, true, ""},
		{"", "sRGB", 0.18, true, "does not say which camera"},
		{"Two", "sRGB", 0.18, false, "with the camera Two and the set-up photo with One"},
		{"One", "Display P3", 0.18, false, "in Display P3 and those of the set-up photo in sRGB"},
		{"One", "sRGB", 0.2, false, "--card 0.18, this one with --card 0.2"},
	} {
		left, later, mind := s.undo(&calib.Photo{Camera: c.camera, Profile: c.profile}, c.card)
		want := Tone{SetupFile, 0.4}
		if !c.used {
			want = Tone{"", calib.UnknownTone()}
		}
		if *left != want || (later == nil) != c.used || !strings.Contains(strings.Join(mind, ""), c.says) || c.says == "" && len(mind) > 0 {
			t.Errorf("%+v: left %+v, says %q", c, *left, mind)
		}
	}
}

func TestSetupFile(t *testing.T) {
	s := &Setup{Photo: "target.jpg", Camera: "One", Profile: "sRGB", Card: 0.18,
		Fit:  calib.Fit{Patches: 23, DeltaE00: 0.4, WorstDeltaE00: 1.25, Without: 4.5},
		Tone: calib.Tone{Bend: []float64{0.1, -0.2}, Mix: [3][3]float64{{-0.1, 0.1, 0}, {0.2, -0.3, 0.1}, {0, 0, 0}}}}
	text, err := s.Text()
	if err != nil {
		t.Fatal(err)
	}
	dir := folder(t, map[string]string{SetupFile: string(text)}, "A1_1.jpg", "target.jpg")
	b, err := ReadBatch(dir)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := b.Setup.Text(); err != nil || string(again) != string(text) {
		t.Errorf("read back: %v\n%s\nwritten\n%s", err, again, text)
	}
	if len(b.Photos) != 1 || b.Photos[0].File != "A1_1.jpg" {
		t.Errorf("the set-up photo is no piece's: %+v", b.Photos)
	}
	for _, broken := range []string{
		strings.Replace(string(text), "0.1", "9.0", 1),
		strings.Replace(string(text), "card", "cart", 1),
		"bend = [nan]\ncard = 0.18\n",
		"bend = 1",
	} {
		if err := os.WriteFile(filepath.Join(dir, SetupFile), []byte(broken), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadBatch(dir); err == nil || !strings.Contains(err.Error(), "make it again with jigloupe setup") {
			t.Errorf("%v on\n%s", err, broken)
		}
	}
}

// A head gets the colour that a camera without a curve of its own gives it.
func TestSetupOnAHead(t *testing.T) {
	t.Parallel()
	s, err := newSetup(t, sheetPhoto(phone, scene.Tent(5000), scene.Target24(60)), SetupOptions{})
	if err != nil {
		t.Fatal(err)
	}
	straight := phone
	straight.Lift, straight.Tone, straight.Vivid = 0, 0, 0
	curve := func(camera scene.Camera, setup *Setup) []TravelBin {
		spec := onCard(scene.Ball, marigold)
		spec.Camera = camera
		dir := t.TempDir()
		writeShot(t, dir, "A1_1.png", spec)
		ph, _ := measureFile(&BatchFolder{Dir: dir, Setup: setup}, BatchFile{File: "A1_1.png"}, false, calib.CardReflectance)
		if !ph.Usable || ph.Tone == nil || (ph.Tone.From == SetupFile) != (setup != nil) {
			t.Fatalf("%+v, %q", ph.Tone, ph.Problems)
		}
		return ph.Travel.Curve
	}
	want := curve(straight, &Setup{Photo: "target.png", Profile: s.Profile, Card: calib.CardReflectance}) // which says to undo nothing
	off := func(got []TravelBin) (mean float64) {
		if len(got) != len(want) || len(got) == 0 {
			t.Fatalf("%d bins, want %d", len(got), len(want))
		}
		for k := range got {
			mean += calib.DeltaE2000(want[k].lab(), got[k].lab()) / float64(len(got))
		}
		return mean
	}
	before, after := off(curve(phone, nil)), off(curve(phone, s))
	t.Logf("marigold head: off by %.2f ΔE00, undone by %.2f", before, after)
	if !(before > 2 && after < before/3) {
		t.Errorf("the head's colour is off by %.2f ΔE00 and with the set-up photo by %.2f, want a third", before, after)
	}
}
