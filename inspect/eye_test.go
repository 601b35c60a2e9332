package inspect

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"jigloupe/calib"
	"jigloupe/calib/cv"
	"jigloupe/inspect/scene"
)

// eyeCoats are pale, dark, vivid, metallic and colour-shifting; the last three
// have the card's own hue.
var eyeCoats = []struct {
	name string
	coat scene.Coat
	base scene.Base
}{
	{"colour shift", heather, scene.NoBase},
	{"warm colour shift", scene.Coat{Flake: scene.ColourShift(240), FlakeShare: 0.6, Pigment: scene.RGB{0.08, 0.05, 0.02}, SpreadDeg: 9, Sparkle: 0.6}, scene.NoBase},
	{"orange", marigold, scene.NoBase},
	{"dark red", scene.Coat{Pigment: scene.RGB{0.14, 0.012, 0.014}}, scene.NoBase},
	{"dark green", scene.Coat{Flake: scene.ColourShift(345), FlakeShare: 0.2, Pigment: scene.RGB{0.012, 0.035, 0.02}, Sparkle: 0.4}, scene.NoBase},
	{"pale pink", scene.Coat{Pigment: scene.RGB{0.75, 0.45, 0.48}, HalfUM: 18, BuildUM: 90}, scene.WhiteBase},
	{"pale yellow", scene.Coat{Flake: scene.Pearl(150), FlakeShare: 0.3, Pigment: scene.RGB{0.78, 0.72, 0.35}, HalfUM: 30, BuildUM: 90, Sparkle: 0.3}, scene.WhiteBase},
	{"copper", scene.Coat{Flake: scene.Aluminium(), FlakeShare: 0.5, Tint: scene.RGB{0.8, 0.42, 0.25}, Pigment: scene.RGB{0.12, 0.05, 0.03}, SpreadDeg: 11, Sparkle: 0.5}, scene.NoBase},
	{"white", scene.Coat{Pigment: scene.RGB{0.8, 0.8, 0.78}, HalfUM: 20, BuildUM: 90}, scene.WhiteBase},
	{"black", scene.Coat{Pigment: scene.RGB{0.02, 0.02, 0.02}}, scene.NoBase},
	{"silver", scene.Coat{Flake: scene.Aluminium(), FlakeShare: 0.6, Pigment: scene.RGB{0.2, 0.2, 0.2}, SpreadDeg: 11, Sparkle: 0.5}, scene.NoBase},
}

// An eyeShot is a drawn photo of an eye with its truth.
type eyeShot struct {
	about  string
	spec   scene.Spec
	facing float64 // of the ring towards the camera: 1 from the front, 0 on edge
	open   float64 // share of the hole, %
}

func newEyeShot(k int) eyeShot {
	random := rand.New(rand.NewPCG(4, uint64(k)))
	between := func(a, b float64) float64 { return a + (b-a)*random.Float64() }
	styles := []scene.Style{scene.Ball, scene.Football, scene.Bullet, scene.Tapered, scene.Coin, scene.Wedge}
	metals := []scene.RGB{{}, {0.9, 0.62, 0.25}, {0.12, 0.12, 0.125}, {0.75, 0.75, 0.74}}
	lights := []scene.Light{
		scene.Tent(between(3000, 6500)), scene.Softbox(between(0, 360), between(3500, 6500)),
		scene.OneLamp(between(0, 360), between(40, 60), between(3500, 6000)), scene.Window(between(0, 360)),
	}
	light, c := random.IntN(len(lights)), eyeCoats[random.IntN(len(eyeCoats))]
	mm := math.Exp(between(math.Log(0.01), math.Log(0.06)))
	p := scene.Piece{
		Seed: random.Uint64(), Coat: c.coat, Base: c.base, TurnDeg: between(-180, 180), TiltDeg: between(0, 5),
		Head: scene.Head{Style: styles[random.IntN(len(styles))], WidthMM: between(6, 9), CollarMM: between(2, 4), Lips: random.IntN(3), SeamMM: 0.02, SocketMM: 2 * float64(random.IntN(2))},
		Wire: scene.Wire{WidthMM: between(0.6, 1), ShankMM: between(5, 8), GapMM: 6.5, RingMM: between(1.2, 2), Metal: metals[random.IntN(len(metals))]},
	}
	p.Wire.EyeFilled = []float64{0, 0, 0, 1, 1, between(0.05, 0.95), between(0.05, 0.95)}[random.IntN(7)]
	p.RollDeg = 180*float64(random.IntN(2)) + []float64{between(-15, 15), between(-15, 15), between(20, 60), between(75, 105)}[random.IntN(4)]
	turn := p.TurnDeg * math.Pi / 180
	p.X, p.Y = between(-2, 2)-3*math.Cos(turn), between(-2, 2)+3*math.Sin(turn)
	return eyeShot{
		about:  fmt.Sprintf("%d: %s %s, light %d, %.0f µm per px, roll %.0f°", k, c.name, p.Head.Style, light, 1000*mm, p.RollDeg),
		facing: math.Abs(math.Cos(p.RollDeg*math.Pi/180) * math.Cos(p.TiltDeg*math.Pi/180)),
		open:   100 * (1 - p.Wire.EyeFilled),
		spec: scene.Spec{
			Seed: random.Uint64(), Width: int(28 / mm), Height: int(23 / mm), MMPerPx: mm, Card: &scene.Card{}, Specks: 5, Hairs: 1,
			Light: lights[light], Pieces: []scene.Piece{p},
			Camera: scene.Camera{Exposure: between(0.7, 1), BlurPx: min(between(0.7, 1.6), 0.035/mm), FullWell: 12000, ReadNoise: 8, Vignette: 0.08, Tone: between(0, 0.1), Sharpen: between(0, 0.5)},
		},
	}
}

// look measures the eye of a shot; refused when the photo is unfit.
func (s eyeShot) look() (e eye, truth scene.Eye, refused bool, err error) {
	picture, t := scene.Render(s.spec)
	var file bytes.Buffer
	if err := jpeg.Encode(&file, picture, &jpeg.Options{Quality: 90}); err != nil {
		return e, truth, false, err
	}
	p, err := calib.Decode(file.Bytes())
	if err != nil {
		return e, truth, false, err
	}
	l, err := lookAt(p, calib.CardReflectance)
	if err != nil || len(l.check(&Photo{}, p)) > 0 {
		return e, truth, true, nil
	}
	e, err = l.findEye(s.spec.MMPerPx)
	return e, t.Eyes[0], false, err
}

// TestEyes sets what is found in drawn eyes against the truth. EYES=150 draws as
// many of them, of all sizes, instead of a few small ones.
func TestEyes(t *testing.T) {
	t.Parallel()
	shots, few := 10, true
	if n, err := strconv.Atoi(os.Getenv("EYES")); err == nil {
		shots, few = n, false
	}
	var mu sync.Mutex
	table := map[string]int{}
	right, wrong, visible, decided := 0, 0, 0, 0
	var off []float64 // of the open share, %
	t.Run("shots", func(t *testing.T) {
		for k := 0; shots > 0; k++ {
			s := newEyeShot(k)
			if few && s.spec.Width*s.spec.Height > 1500000 {
				continue
			}
			shots--
			t.Run(strconv.Itoa(k), func(t *testing.T) {
				t.Parallel()
				e, truth, refused, err := s.look()
				if err != nil {
					t.Fatal(err)
				}
				want := EyeOpen
				switch {
				case s.facing < 0.35:
					want = EyeUnseen
				case s.open < EyeOpenPct:
					want = EyeBlocked
				}
				about := fmt.Sprintf("%s, facing %.2f, %.0f %% open: %s %s", s.about, s.facing, s.open, e.state, e.note)
				mu.Lock()
				defer mu.Unlock()
				if refused {
					table["photo refused"]++
					t.Log("refused", about)
					return
				}
				in := ""
				if want != EyeUnseen && !truth.Visible {
					in = " behind or before the head"
				}
				table[string(want)+in+" → "+string(e.state)]++
				if truth.Visible && s.facing >= 0.75 {
					visible++
					if e.state != EyeUnseen {
						decided++
					}
				}
				switch {
				case e.state == EyeUnseen:
					if want != EyeUnseen {
						t.Log("unseen", about)
					}
				case e.state == want:
					right++
				case want != EyeUnseen && math.Abs(s.open-EyeOpenPct) < 2*eyeU:
					table["of these close calls"]++
				default:
					wrong++
					t.Log("WRONG", about)
				}
				if e.hole != nil && s.open > 0 && s.open < 100 && s.facing >= 0.75 {
					t.Logf("%.0f %% open found %.0f %%: %s", s.open, e.hole.OpenPct, s.about)
					off = append(off, e.hole.OpenPct-s.open)
				}
			})
		}
	})
	var lines []string
	for k, n := range table {
		lines = append(lines, fmt.Sprintf("%4d  %s", n, k))
	}
	slices.Sort(lines)
	if 20*wrong > right+wrong { // what a user can bear
		t.Errorf("%d of %d decided eyes are wrong, want one in twenty at most", wrong, right+wrong)
	}
	if 3*visible > 4*decided {
		t.Errorf("%d of %d eyes seen from near the front were decided, want three in four", decided, visible)
	}
	rms := 0.0
	for _, d := range off {
		rms += d * d / float64(len(off))
	}
	t.Logf("%d of %d decided are right; open share of partly filled holes off by %.1f %% RMS (%d)\n%s", right, right+wrong, math.Sqrt(rms), len(off), strings.Join(lines, "\n"))
}

// A disc cut through its middle keeps half, one cut at half its radius
// 1/3 − √3/(4π) = 0.1955 (circular segment); the cut lies farther out in the
// middle part's own radii.
func TestWholeHole(t *testing.T) {
	part := func(x float64) float64 { return (math.Acos(x) - x*math.Sqrt(1-x*x)) / math.Pi }
	for _, c := range []struct{ middle, whole float64 }{
		{0, 0}, {0.5, 0.5}, {1, 1}, {part(0.5 / middlePart), 0.1955}, {1 - part(0.5/middlePart), 1 - 0.1955},
	} {
		if got := wholeHole(c.middle); math.Abs(got-c.whole) > 5e-5 {
			t.Errorf("wholeHole(%.4f) = %.4f, want %.4f", c.middle, got, c.whole)
		}
	}
}

func TestMergeEye(t *testing.T) {
	open, filled := &EyeHole{OpenPct: 95, U: 8}, &EyeHole{OpenPct: 10, U: 8}
	unseen := func(note string) Photo { return Photo{Usable: true, Eye: EyeUnseen, EyeNote: note} }
	for _, c := range []struct {
		name   string
		photos []Photo
		want   EyeState
		hole   *EyeHole
		note   string
	}{
		{"one view through it is enough", []Photo{unseen(noteOnEdge), {Usable: true, Eye: EyeOpen, EyeHole: open}, unseen(noteNoEye)}, EyeOpen, open, ""},
		{"paint counts wherever it shows", []Photo{{Usable: true, Eye: EyeOpen, EyeHole: open}, {Usable: true, Eye: EyeBlocked, EyeHole: filled}}, EyeBlocked, filled, ""},
		{"the view that shows most says what is missing", []Photo{unseen(noteNoEye), unseen(noteAlike), unseen(noteNoEye)}, EyeUnseen, nil, noteAlike},
		{"an unusable photo says nothing", []Photo{{Eye: EyeOpen, EyeHole: open}}, EyeUnseen, nil, ""},
	} {
		p := Piece{Photos: c.photos}
		if p.merge(); p.Eye != c.want || p.EyeHole != c.hole || p.EyeNote != c.note {
			t.Errorf("%s: %s, %v, %q", c.name, p.Eye, p.EyeHole, p.EyeNote)
		}
	}
}

// A scale that somebody mistyped must not stop a run.
func TestEyeBearsAnyScale(t *testing.T) {
	t.Parallel()
	p, _ := shoot(t, onCard(scene.Ball, marigold))
	l, err := lookAt(p, calib.CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	for _, mm := range []float64{0, 1e-9, 1e-4, 0.5, 10, 1e6} {
		if _, err := l.findEye(mm); err != nil {
			t.Errorf("%g mm per px: %v", mm, err)
		}
	}
}

// An eye on edge before the head is a bar along the hook, and a wider one to its side
// that is as dark and as light as round wire is an eye seen less on edge. A bar across it
// is a bare band around the head, dull metal is bare, and so is any bar on a head whose
// eye is seen elsewhere.
func TestBareBandIsNoEye(t *testing.T) {
	const n = 200
	elsewhere := &ring{x: 500, y: 500, long: 20, half: 5, flat: 1}
	for _, c := range []struct {
		name              string
		long, wide, aside int     // px along the hook, across it, and off it
		light             float32 // of the lighter half over the darker
		ring              *ring
		want              int
	}{
		{"an eye on edge", 60, 22, 0, 1, nil, 1},
		{"a collar's bare end", 60, 22, 0, 1, nil, 0},
		{"a band around the head", 22, 60, 0, 1, nil, 0},
		{"a band that mirrors a lamp", 22, 60, 0, 6, nil, 0},
		{"an eye seen slantwise", 60, 40, 40, 6, nil, 1},
		{"dull metal of that shape", 60, 40, 40, 2, nil, 0},
		{"as long as wide", 50, 46, 40, 6, nil, 0},
		{"short", 24, 16, 0, 6, nil, 0},
		{"a bar, and the eye beside the head", 60, 22, 0, 1, elsewhere, 0},
	} {
		l := &look{
			patch: patch{Linear: &calib.Linear{Width: n, Height: n, Step: 1}},
			shape: &shape{w: n, h: n, radius: 80, head: image.NewGray(image.Rect(0, 0, n, n))}, axis: axis{x: n / 2, y: n / 2, dx: 1},
		}
		b := bareness{level: make([]levels, n*n)}
		sp := spot{blob: cv.Blob{X: n / 2, Y: float64(n/2 + c.aside)}}
		for y := (n-c.wide)/2 + c.aside; y < (n+c.wide)/2+c.aside; y++ {
			for x := (n - c.long) / 2; x < (n+c.long)/2; x++ {
				b.level[y*n+x].pixel = 0.3
				if x%2 == 0 {
					b.level[y*n+x].pixel = 0.3 * c.light
				}
				sp.pixels = append(sp.pixels, y*n+x)
			}
		}
		if c.name == "a collar's bare end" {
			l.collar = image.NewGray(l.shape.head.Rect)
			for i := range l.collar.Pix {
				l.collar.Pix[i] = 255
			}
		}
		e := eye{ring: c.ring, grid: l.patch}
		if e.behind(l, b, []spot{sp}); min(len(e.covers), 1) != c.want {
			t.Errorf("%s: the eye covers %d px", c.name, len(e.covers))
		}
	}
}

// A ring that the coat makes on the head is no eye.
func TestPaintedRing(t *testing.T) {
	const n = 100
	for _, c := range []struct {
		name    string
		head    uint8
		neutral float32
		found   bool
	}{
		{"coat on the head", 255, 0.05, false},
		{"wire before the head", 255, 0.9, true},
		{"beside the head", 0, 0.05, true},
	} {
		l := &look{patch: patch{Linear: &calib.Linear{Width: n, Height: n, Step: 1}}, shape: &shape{w: n, h: n, radius: 80, head: image.NewGray(image.Rect(0, 0, n, n))}}
		for i := range l.shape.head.Pix {
			l.shape.head.Pix[i] = c.head
		}
		b := bareness{neutral: flatPlane(n, c.neutral), opacity: flatPlane(n, 1), limit: flatPlane(n, 0.6)}
		e := eye{ring: &ring{x: 50, y: 50, long: 20, half: 5, flat: 1}, grid: l.patch, at: &Point{50, 50}, state: EyeOpen}
		if e.behind(l, b, nil); (e.ring != nil) != c.found || (e.state == EyeOpen) != c.found {
			t.Errorf("%s: %v, %s", c.name, e.ring != nil, e.note)
		}
	}
}

// An eye seen on edge is no place that may be bare either, where light of two colours or its
// gloss leaves in doubt what it is.
func TestEyeIsNoDoubt(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		coat  scene.Coat
		light scene.Light
	}{{"orange", marigold, scene.Window(20)}, {"shifting", heather, scene.Window(60)}} {
		spec := onCard(scene.Ball, c.coat)
		spec.Light, spec.Pieces[0].RollDeg, spec.Pieces[0].Wire.RingMM = c.light, 95, 1.4
		ph, _, _ := measured(t, spec)
		for _, s := range slices.Concat(ph.BareSpots, ph.DarkSpots) {
			if *s.DiameterMM > 0.5 {
				t.Errorf("%s: %.1f mm at %.0f, %.0f, %s", c.name, *s.DiameterMM, s.X, s.Y, s.Shows)
			}
		}
	}
}
