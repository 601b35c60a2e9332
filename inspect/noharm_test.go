package inspect

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/disintegration/imaging"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// What is found of a bare spot does not hang on how the photo is stored, turned
// or scaled: the same spot in a JPEG of quality 75, in a photo turned by a quarter,
// and from 10 to 60 µm to the pixel.
func TestSpotsHoldStill(t *testing.T) {
	t.Parallel()
	base := onCard(scene.Ball, marigold)
	base.Pieces[0].Bare = []scene.Bare{{At: scene.Place{AlongMM: -0.5, AroundDeg: 10, Facing: true}, WidthMM: 0.9, SoftMM: 0.1}}
	picture, truth := scene.Render(base)
	want := truth.BareSpots[0].DiameterMM
	check := func(name string, p *calib.Photo, mm float64) {
		ph, _, err := measurePhoto(p, mm)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		found, got, others := 0, 0.0, 0
		for _, s := range ph.BareSpots {
			switch {
			case s.Where == "face":
				found, got = found+1, *s.DiameterMM
			case *s.DiameterMM >= 0.55: // on an edge of the collar 0.35 to 0.51 mm are taken for bare on the day this is written
				others++
			}
		}
		t.Logf("%s: %d spots on the face, %.2f mm; %d others of 0.55 mm and more", name, found, got, others)
		if found != 1 || others > 0 || math.Abs(got-want) > 0.15*want+2*mm { // the blurred edge is two px wide
			t.Errorf("%s: %d spots on the face, %.2f mm, and %d others, want one of %.2f mm", name, found, got, others, want)
		}
	}
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, picture, &jpeg.Options{Quality: 75}); err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{"JPEG of quality 75": jpg.Bytes()}
	var turned bytes.Buffer
	if err := png.Encode(&turned, imaging.Rotate90(picture)); err != nil {
		t.Fatal(err)
	}
	files["turned by 90°"] = turned.Bytes()
	for name, file := range files {
		p, err := calib.Decode(file)
		if err != nil {
			t.Fatal(err)
		}
		check(name, p, base.MMPerPx)
	}
	for _, um := range []float64{10, 60} {
		spec := base
		spec.MMPerPx = um / 1000
		spec.Width, spec.Height = int(18/spec.MMPerPx), int(14/spec.MMPerPx)
		p, _ := shoot(t, spec)
		check(fmt.Sprintf("%.0f µm to the pixel", um), p, spec.MMPerPx)
	}
}

// Photos of things that are no head: none may pass or show a bare spot, and each
// says what to do. Where Debian's python3-skimage is installed, its example
// pictures are tried too.
func TestNoHeadNoVerdict(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, img := range noHeads() {
		var file bytes.Buffer
		if err := png.Encode(&file, img); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name+"_1.png"), file.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, ending := range []string{"png", "jpg"} {
		examples, _ := filepath.Glob("/usr/lib/python3/dist-packages/skimage/data/*." + ending)
		for _, e := range examples {
			content, err := os.ReadFile(e)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "example-"+filepath.Base(e)), content, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	b, err := ReadBatch(dir)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Grade(context.Background(), b, Options{}, func(*Photo, *Evidence) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range r.Pieces {
		for _, ph := range p.Photos {
			if ph.Usable || len(ph.BareSpots) > 0 || len(ph.ReliefFaults) > 0 || len(ph.Problems) == 0 {
				t.Errorf("%s: usable %v, %d bare spots, %d relief faults, says %q", ph.File, ph.Usable, len(ph.BareSpots), len(ph.ReliefFaults), ph.Problems)
			}
		}
		if p.Verdict != Retake || len(p.Reasons) == 0 || p.Reasons[0].Fix == "" {
			t.Errorf("%s: %s, %+v; want a retake with a reason and what to do", p.Piece, p.Verdict, p.Reasons)
		}
	}
	t.Logf("%d pictures", len(r.Pieces))
}

// noHeads draws pictures without a head.
func noHeads() map[string]image.Image {
	random := rand.New(rand.NewPCG(9, 9))
	draw := func(at func(x, y float64) color.NRGBA) image.Image {
		m := image.NewNRGBA(image.Rect(0, 0, 640, 480))
		for y := range 480 {
			for x := range 640 {
				m.SetNRGBA(x, y, at(float64(x), float64(y)))
			}
		}
		return m
	}
	grey := func(v float64) color.NRGBA {
		g := uint8(min(max(v+4*random.NormFloat64(), 0), 255))
		return color.NRGBA{g, g, g, 255}
	}
	card, _ := scene.Render(scene.Spec{Width: 640, Height: 480, MMPerPx: 0.03, Card: &scene.Card{}, Light: scene.Softbox(60, 5000), Specks: 12, Hairs: 3})
	return map[string]image.Image{
		"card":    card,
		"noise":   draw(func(x, y float64) color.NRGBA { return grey(118 + 60*random.NormFloat64()) }),
		"ramp":    draw(func(x, y float64) color.NRGBA { return grey(x / 2.6) }),
		"stripes": draw(func(x, y float64) color.NRGBA { return grey(118 + 50*math.Sin(x/7+y/19)) }),
		"checks":  draw(func(x, y float64) color.NRGBA { return grey(60 + 120*float64((int(x)/40+int(y)/40)%2)) }),
		"coins": draw(func(x, y float64) color.NRGBA {
			if math.Hypot(math.Mod(x, 160)-80, math.Mod(y, 160)-80) < 55 {
				return color.NRGBA{150, 110, 60, 255}
			}
			return grey(118)
		}),
		"leaf": draw(func(x, y float64) color.NRGBA {
			if d := math.Abs(y-240) - 70*math.Sin(min(max(x-40, 0), 560)*math.Pi/560); d < 0 {
				return color.NRGBA{60, uint8(110 + 20*math.Sin(x/9+y/5)), 40, 255}
			}
			return color.NRGBA{190, 170, 140, 255}
		}),
	}
}
