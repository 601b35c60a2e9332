package calib

import (
	"image"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"
)

func TestTargetReferences(t *testing.T) {
	rows := checkTable(t, "03_target24_lab_d50.csv")
	if len(rows) != len(Target24()) {
		t.Fatalf("%d patches, want %d", len(Target24()), len(rows))
	}
	worst, mean := 0.0, 0.0
	for i, lab := range Target24() {
		if v := numbers3(t, rows[i], "L_post", "a_post", "b_post"); (Lab{v[0], v[1], v[2]}) != lab {
			t.Errorf("patch %d is %v, want %v", i+1, lab, v)
		}
		v := numbers3(t, rows[i], "L_pre", "a_pre", "b_pre")
		d := DeltaE2000(Lab{v[0], v[1], v[2]}, lab)
		worst, mean = max(worst, d), mean+d/24
	}
	t.Logf("targets made before differ by %.2f in the mean, %.2f at most", mean, worst)
	if mean > 1.05 || worst > 3 { // as the comment at Target24 says
		t.Errorf("targets made before differ by %.2f ΔE00 in the mean, %.2f at most", mean, worst)
	}
}

// The assumption that UnknownTone states: how steep the extreme curves are where
// the card lies.
func TestUnknownTone(t *testing.T) {
	at := linearToSRGB(CardReflectance)
	for _, want := range []float64{0.9, 1.4} {
		camera := Tone{Bend: []float64{0, (want - 1) / math.Cos(2*math.Pi*at)}}
		v := func(v float64) float64 { return linearToSRGB(camera.straighten(srgbToLinear(v))) }
		near(t, "slope", (v(at+0.001)-v(at-0.001))/0.002, want, 0.01)
	}
	if u := UnknownTone(); u < 1 || u > 6 {
		t.Errorf("UnknownTone() = %.2f, want a few ΔE00", u)
	}
}

// Over cameras drawn from all the range, 24-patch colours come out about as far off
// as OtherTones says, and nearly all within twice that.
func TestOtherTones(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	undo := UsualTone()
	within, n, off, said := 0.0, 0.0, 0.0, 0.0
	for range 60 {
		steep := flattest + (steepest-flattest)*random.Float64()
		camera := Tone{Bend: []float64{mostLift * (2*random.Float64() - 1), bendAtCard(steep)}}
		seen := func(v float64) float64 { return undo.straighten(camera.straighten(v)) }
		for _, want := range target24 {
			c := want.LinearRGB()
			card := CardReflectance / seen(CardReflectance)
			got := LinearRGB{card * seen(c.R), card * seen(c.G), card * seen(c.B)}.Lab()
			others := OtherTones(got)
			d, u := DeltaE2000(want, got), math.Hypot(DeltaE2000(got, others[0]), DeltaE2000(got, others[1]))
			if n++; d <= 2*u {
				within++
			}
			off, said = off+d*d, said+u*u
		}
	}
	if r := math.Sqrt(off / said); r < 0.8 || r > 1.2 || within/n < 0.93 {
		t.Errorf("errors are %.2f times what is said, %.3f of them within twice; want 1 ± 0.2, 0.93 or more", r, within/n)
	}
	for _, c := range OtherTones(LinearRGB{CardReflectance, CardReflectance, CardReflectance}.Lab()) {
		if d := DeltaE2000(LinearRGB{CardReflectance, CardReflectance, CardReflectance}.Lab(), c); d > 1e-6 {
			t.Errorf("the card's own grey moves by ΔE00 %g, want 0", d)
		}
	}
}

func TestToneValid(t *testing.T) {
	for _, c := range []struct {
		tone Tone
		want bool
	}{
		{Tone{}, true},
		{Tone{Bend: []float64{0.2, -0.3}}, true},
		{Tone{Bend: []float64{0, 1.2}}, false}, // falls in the middle
		{Tone{Bend: []float64{math.NaN()}}, false},
		{Tone{Mix: [3][3]float64{{0, 0, math.Inf(1)}}}, false},
		{Tone{Bend: make([]float64, 9)}, false},
	} {
		if got := c.tone.Valid(); got != c.want {
			t.Errorf("%+v: %v, want %v", c.tone, got, c.want)
		}
	}
}

// exifOfCamera is an EXIF block that names a camera and nothing else.
func exifOfCamera() []byte {
	const model = "Pocket\x1b 3 \x00"
	b := []byte("II*\x00\x08\x00\x00\x00\x01\x00")
	b = append(b, 0x10, 0x01, 2, 0, byte(len(model)), 0, 0, 0, 26, 0, 0, 0) // tag 272, text
	return append(append(b, 0, 0, 0, 0), model...)
}

// The camera is the model that EXIF names, cleared of what a terminal would obey.
func TestCamera(t *testing.T) {
	m := paint(t, sRGB, linearToSRGB)
	for want, file := range map[string][]byte{
		"Pocket 3": jpegWith(t, m, 90, exifSegment(exifOfCamera())),
		"":         jpegWith(t, m, 90),
	} {
		if p, err := Decode(file); err != nil || p.Camera != want {
			t.Errorf("JPEG: camera %q, %v; want %q", p.Camera, err, want)
		}
	}
	for name, want := range map[string]string{"named.avif": "Pocket 3", "turned-left.avif": "", "p3.heic": ""} {
		if p, err := Open(filepath.Join(photosFolder, name)); err != nil || p.Camera != want {
			t.Errorf("%s: camera %q, %v; want %q", name, p.Camera, err, want)
		}
	}
}

// A tone undone after the card was read gives what undoing it before gives.
func TestStraightened(t *testing.T) {
	tone := UsualTone()
	p, _ := cardPhoto(800, 600)
	card, err := FindCard(p, CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	r := image.Rect(300, 200, 600, 400)
	lin := p.Linear(r, 1)
	card.Reflect(lin)
	after := card.Straightened(lin, tone, func(int) bool { return true })
	p.Straighten(tone)
	if card, err = FindCard(p, CardReflectance); err != nil {
		t.Fatal(err)
	}
	before := p.Linear(r, 1)
	card.Reflect(before)
	sum, moved := 0.0, 0.0
	for i, v := range before.Pix {
		sum += math.Abs(float64(v-after.Pix[i])) / float64(len(before.Pix))
		moved += math.Abs(float64(v-lin.Pix[i])) / float64(len(before.Pix))
	}
	// two fits of the light to the same noise
	if sum > 0.0005 || moved < 5*sum {
		t.Errorf("reflectances differ by %.5f in the mean, where the tone moves them by %.5f", sum, moved)
	}
}
