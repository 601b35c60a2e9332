package scene

import (
	"bytes"
	"image"
	"math"
	"runtime"
	"testing"
)

// plainBall is a bare-bones scene: a white diffuse ball without collar, wire or
// gloss, on a full card under a tent.
func plainBall(widthMM, mmPerPx float64) Spec {
	return Spec{Seed: 5, Width: 340, Height: 320, MMPerPx: mmPerPx, Card: &Card{}, Light: Tent(0),
		Pieces: []Piece{{Head: Head{Style: Ball, WidthMM: widthMM}, Coat: Coat{Pigment: RGB{0.6, 0.6, 0.6}, GlossDeg: 90, HalfUM: 1}}}}
}

func TestBallMaskAndAngles(t *testing.T) {
	for _, mmPerPx := range []float64{0.035, 0.05} {
		s := plainBall(7, mmPerPx)
		s.Pieces[0].X, s.Pieces[0].Y = 0.31, -0.17
		_, truth := Render(s)
		r := 3.5 / mmPerPx
		// half of the pixels the outline runs through
		if want, slack := math.Pi*r*r, 0.5*math.Sqrt(2*math.Pi*r)*3; math.Abs(float64(truth.HeadAreaPx)-want) > slack {
			t.Errorf("head of %d px, want %.0f ± %.0f", truth.HeadAreaPx, want, slack)
		}
		cx, cy := 170+0.31/mmPerPx, 160-0.17/mmPerPx
		for y := truth.Box.Min.Y; y < truth.Box.Max.Y; y++ {
			for x := truth.Box.Min.X; x < truth.Box.Max.X; x++ {
				got := float64(truth.ViewingDeg[truth.At(x, y)])
				off := math.Hypot(float64(x)+0.5-cx, float64(y)+0.5-cy) / r
				if off > 0.98 {
					continue // the ray's last step of 2 µm counts there
				}
				if want := math.Asin(off) * 180 / math.Pi; math.Abs(got-want) > 0.5 {
					t.Fatalf("at %d, %d the viewing angle is %.2f°, want %.2f°", x, y, got, want)
				}
			}
		}
	}
}

// A diffuser tilted by θ under an even dome sees (1 + cosθ)/2 of it, and for the
// rest the card, which returns 18 %: less in the ball's own shadow, which is why
// only the upper side is compared closely.
func TestDiffuseBallUnderDome(t *testing.T) {
	s := plainBall(7, 0.04)
	_, truth := Render(s)
	for _, b := range truth.Curve() {
		if b.ViewingDeg > 80 {
			continue // a ring of one pixel, where the top's loss rises steeply
		}
		// the mean over the bin's pixels: the photo shows sinθ cosθ of each angle
		var low, high, weight float64
		for d := b.ViewingDeg - 4.9; d < b.ViewingDeg+5; d += 0.2 {
			sin, cos := math.Sincos(radians(d))
			top := 0.6 * (1 - fresnel(cos, 1.5)) / 0.96 * sin * cos
			low, high, weight = low+top*(1+cos)/2, high+top*((1+cos)/2+0.18*(1-cos)/2), weight+sin*cos
		}
		low, high = low/weight, high/weight
		if got := b.Body[1]; got < low*0.985 || got > high*1.015 {
			t.Errorf("at %v° reflectance %.4f, want %.4f to %.4f", b.ViewingDeg, got, low, high)
		}
	}
}

func TestHalfTheExposureIsHalfTheLight(t *testing.T) {
	s := plainBall(7, 0.05)
	full, _ := Render(s)
	s.Camera.Exposure = 0.5
	half, _ := Render(s)
	for _, p := range []image.Point{{20, 20}, {150, 130}, {120, 100}} {
		a, b := decode(full.NRGBAAt(p.X, p.Y).G), decode(half.NRGBAAt(p.X, p.Y).G)
		// half a step of 8 bits in either
		if math.Abs(b-a/2) > 0.003 {
			t.Errorf("at %v: %.4f at half exposure, %.4f at full", p, b, a)
		}
	}
}

// Body and Glare times the card's light are what a perfect camera's photo shows,
// on both sides of a fall-off.
func TestPhotoShowsTheTrueReflectance(t *testing.T) {
	s := Spec{Seed: 4, Width: 400, Height: 300, MMPerPx: 0.05, Card: &Card{}, Light: Softbox(60, 3500), Pieces: []Piece{demoPiece()}}
	s.Light.FallOff = 2
	img, truth := Render(s)
	light := s.Light.ready(20, 15)
	n, off := 0, 0
	for y := truth.Box.Min.Y; y < truth.Box.Max.Y; y++ {
		for x := truth.Box.Min.X; x < truth.Box.Max.X; x++ {
			i := truth.At(x, y)
			if !(truth.ViewingDeg[i] < 60) {
				continue // the rim is mixed with what is behind it
			}
			e, middle := light.onCard((float64(x)-199.5)*0.05, (float64(y)-149.5)*0.05), light.onCard(0, 0)
			n++
			for ch, got := range [3]uint8{img.NRGBAAt(x, y).R, img.NRGBAAt(x, y).G, img.NRGBAAt(x, y).B} {
				want := clamp((truth.Body[i][ch]+truth.Glare[i][ch])*e[ch]/middle[ch], 0, 1)
				if math.Abs(decode(got)-want) > 0.005 { // half of a step of 8 bits near white
					off++
					break
				}
			}
		}
	}
	// inner edges, lips and sockets, are mixed too
	if n < 5000 || off > n/10 {
		t.Errorf("%d of %d pixels do not show their reflectance", off, n)
	}
}

func decode(v uint8) float64 { return linear(uint32(v) * 0x101) }

// The same spec gives the same bytes on any number of cores.
func TestSameSpecSamePhoto(t *testing.T) {
	s := Spec{Seed: 9, Width: 400, Height: 300, MMPerPx: 0.05, Card: &Card{WidthMM: 18, HeightMM: 13, TurnDeg: 8}, Table: WoodTable,
		Specks: 5, Hairs: 2, Light: Window(120), Camera: Camera{BlurPx: 0.7, FullWell: 9000, ReadNoise: 4, Sharpen: 0.3},
		Pieces: []Piece{demoPiece()}}
	first, _ := Render(s)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	again, _ := Render(s)
	if !bytes.Equal(first.Pix, again.Pix) {
		t.Error("two renderings of one spec differ")
	}
	s.Seed++
	other, _ := Render(s)
	if bytes.Equal(first.Pix, other.Pix) {
		t.Error("another seed draws the same photo")
	}
}

func demoPiece() Piece {
	return Piece{
		Head: Head{Style: Tapered, WidthMM: 7, CollarMM: 3, Lips: 2, SocketMM: 2, SeamMM: 0.03},
		Wire: Wire{WidthMM: 0.8, ShankMM: 6, GapMM: 5, RingMM: 1.4},
		Coat: Coat{Flake: ColourShift(400), FlakeShare: 0.7, Pigment: RGB{0.1, 0.1, 0.12}, Sparkle: 0.5},
		X:    -2, TurnDeg: 15,
	}
}

// A spot of diameter d seen under θ covers πd²/4·cosθ; the curved surface adds
// less than 2 % at these sizes.
func TestBareSpotArea(t *testing.T) {
	for _, d := range []float64{0.5, 0.8, 1.5} {
		for _, away := range []float64{0, 40} {
			s := plainBall(8, 0.03)
			s.Pieces[0].Bare = []Bare{{At: Place{AroundDeg: away, Facing: true}, WidthMM: d, SoftMM: 0.1}}
			_, truth := Render(s)
			if len(truth.BareSpots) != 1 {
				t.Fatalf("%v mm at %v°: %d bare spots, want 1", d, away, len(truth.BareSpots))
			}
			got, want := truth.BareSpots[0].AreaMM2, math.Pi*d*d/4*math.Cos(radians(away))
			edge := math.Sqrt(math.Pi*d/0.03) * 0.03 * 0.03 * 2
			if math.Abs(got-want) > 0.03*want+edge {
				t.Errorf("%v mm at %v°: %.4f mm², want %.4f", d, away, got, want)
			}
		}
	}
}

func TestBareLipIsOnTheEdge(t *testing.T) {
	p := demoPiece()
	p.RollDeg = 20
	p.Bare = []Bare{{At: Place{AlongMM: p.Head.LipMM(1), AroundDeg: 0, Facing: true}, WidthMM: 0.4, ArcDeg: 50, SoftMM: 0.1}}
	s := Spec{Width: 500, Height: 400, MMPerPx: 0.04, Card: &Card{}, Light: Tent(0), Pieces: []Piece{p}}
	_, truth := Render(s)
	if len(truth.BareSpots) != 1 || truth.BareSpots[0].Where != "edge" || truth.BareSpots[0].Shows != "metal" {
		t.Fatalf("bare spots %+v, want one on an edge showing metal", truth.BareSpots)
	}
	s.Pieces[0].Base = WhiteBase
	if _, truth = Render(s); truth.BareSpots[0].Shows != "white base" {
		t.Errorf("over a white base it shows %s", truth.BareSpots[0].Shows)
	}
	s.Pieces[0].Bare[0].ToMetal = true
	if _, truth = Render(s); truth.BareSpots[0].Shows != "metal" {
		t.Errorf("with the base missing too it shows %s", truth.BareSpots[0].Shows)
	}
}

// A lump or sag on the outline stands out by its height; one facing the camera
// does not show there.
func TestLumpOnTheOutline(t *testing.T) {
	for _, kind := range []Kind{Lump, Sag, Cone, Run} {
		for _, h := range []float64{0.25, 0.6} {
			s := plainBall(8, 0.04)
			s.Pieces[0].Relief = []Relief{{Kind: kind, At: Place{AroundDeg: 90, Facing: true}, WidthMM: 2, HeightMM: h}}
			_, truth := Render(s)
			if got := truth.Relief[0].OutlineMM; math.Abs(got-h) > 0.03 || math.Abs(truth.OutlineMM-h) > 0.03 {
				t.Errorf("%s of %v mm stands out %.3f mm, the outline %.3f", kind, h, got, truth.OutlineMM)
			}
			s.Pieces[0].Relief[0].At.AroundDeg = 0
			_, truth = Render(s)
			if truth.OutlineMM > 0.02 || !truth.Relief[0].Visible {
				t.Errorf("%s facing the camera: outline %.3f mm, visible %v", kind, truth.OutlineMM, truth.Relief[0].Visible)
			}
		}
	}
}

func TestEyeTruth(t *testing.T) {
	for _, x := range []struct {
		roll, filled float64
		state        string
		visible      bool
	}{{0, 0, "open", true}, {10, 1, "blocked", true}, {0, 0.5, "partly", true}, {90, 0, "open", false}, {-85, 0, "open", false}} {
		p := demoPiece()
		p.RollDeg, p.Wire.EyeFilled = x.roll, x.filled
		s := Spec{Width: 400, Height: 300, MMPerPx: 0.06, Card: &Card{}, Light: Tent(0), Pieces: []Piece{p}}
		_, truth := Render(s)
		if e := truth.Eyes[0]; e.State != x.state || e.Visible != x.visible {
			t.Errorf("roll %v, filled %v: %s, visible %v", x.roll, x.filled, e.State, e.Visible)
		} else if x.visible {
			got := truth.class(int(e.X+0.3), int(e.Y)) == ClassWire
			if got != (x.filled == 1) {
				t.Errorf("filled %v: wire in the hole's middle is %v", x.filled, got)
			}
		}
	}
}

func TestDefects(t *testing.T) {
	good := Spec{Width: 400, Height: 300, MMPerPx: 0.06, Card: &Card{}, Light: Tent(0), Pieces: []Piece{demoPiece()}}
	for _, x := range []struct {
		want  string
		spoil func(*Spec)
	}{
		{"", func(s *Spec) {}},
		{"no card", func(s *Spec) { s.Card = nil }},
		{"no piece", func(s *Spec) { s.Pieces = nil }},
		{"two pieces", func(s *Spec) { p := demoPiece(); p.X, p.Y = 6, 6; s.Pieces = append(s.Pieces, p) }},
		{"cut off", func(s *Spec) { s.Pieces[0].X = -12 }},
		{"too small", func(s *Spec) { s.MMPerPx = 0.12 }},
		{"blur", func(s *Spec) { s.Camera.BlurPx = 3 }},
		{"overexposed", func(s *Spec) { s.Camera.Exposure = 4 }},
		{"underexposed", func(s *Spec) { s.Camera.Exposure = 0.1 }},
	} {
		s := good
		s.Pieces = append([]Piece(nil), good.Pieces...)
		x.spoil(&s)
		if _, truth := Render(s); truth.Defect != x.want || truth.Usable != (x.want == "") {
			t.Errorf("defect %q, want %q", truth.Defect, x.want)
		}
	}
}
