//go:build gocv_specific_modules

package cv

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"gocv.io/x/gocv"
)

// A disc on another ground, of which the middle is perhaps known.
func TestCutFollowsTheBorder(t *testing.T) {
	const w, h = 40, 30
	features, known := make([]uint8, 3*w*h), image.NewGray(image.Rect(0, 0, w, h))
	perhaps := make([]bool, w*h)
	inside := func(x, y int) bool { return math.Hypot(float64(x-18), float64(y-14)) < 9 }
	for i := range known.Pix {
		v := uint8(60 + i*7%13)
		if inside(i%w, i/w) {
			v += 110
		}
		features[3*i], features[3*i+1], features[3*i+2] = v, 128, 128
		perhaps[i] = math.Hypot(float64(i%w-18), float64(i/w-14)) < 6
	}
	got, err := NewParting(features, known).Cut(perhaps, 3, 1)
	if err != nil {
		t.Fatal(err)
	}
	off := 0 // the line is kept short, so it rounds the circle's few corners
	for i, v := range got.Pix {
		if (v != 0) != inside(i%w, i/w) {
			off++
		}
	}
	if off > 12 {
		t.Errorf("%d of %d pixels are on the wrong side", off, w*h)
	}
}

// grabCut is OpenCV's.
func grabCut(t *testing.T, features []uint8, known *image.Gray, perhaps []bool, rounds, seed int) []bool {
	t.Helper()
	w, h := known.Rect.Dx(), known.Rect.Dy()
	img, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC3, features)
	if err != nil {
		t.Fatal(err)
	}
	defer img.Close()
	m := image.NewGray(known.Rect)
	for i, k := range known.Pix {
		switch {
		case k == Inside:
			m.Pix[i] = 1
		case k == Unknown && perhaps[i]:
			m.Pix[i] = 3
		case k == Unknown:
			m.Pix[i] = 2
		}
	}
	mask, err := grayMat(m)
	if err != nil {
		t.Fatal(err)
	}
	defer mask.Close()
	in, out := gocv.NewMat(), gocv.NewMat()
	defer in.Close()
	defer out.Close()
	gocv.SetRNGSeed(seed)
	if err := gocv.GrabCut(img, &mask, image.Rectangle{}, &out, &in, rounds, gocv.GCInitWithMask); err != nil {
		t.Fatal(err)
	}
	got := make([]bool, w*h)
	for i, v := range mask.ToBytes() {
		got[i] = v == 1 || v == 3
	}
	return got
}

// Noisy pictures of a few colours, with more or less of them known, come out as OpenCV's
// grabCut has them, whatever was cut before.
func TestCutIsGrabCut(t *testing.T) {
	for n := range 24 {
		r := rand.New(rand.NewPCG(1, uint64(n)))
		w, h := 30+r.IntN(40), 30+r.IntN(40)
		features, known := make([]uint8, 3*w*h), image.NewGray(image.Rect(0, 0, w, h))
		perhaps := make([]bool, w*h)
		noise := 4 + 3*float64(n)
		for i := range known.Pix {
			x, y := float64(i%w)/float64(w)-0.5, float64(i/w)/float64(h)-0.5
			away := math.Hypot(x, y)
			colour := [3]float64{90 + 40*x, 128, 120 + 20*y}
			if away < 0.3 {
				colour = [3]float64{130 + 200*x, 110 + 60*y, 140}
			}
			for k, v := range colour {
				features[3*i+k] = uint8(min(max(v+noise*r.NormFloat64(), 0), 255))
			}
			switch {
			case away > 0.6-0.02*float64(n):
				known.Pix[i] = Outside
			case away < 0.2-0.015*float64(n):
				known.Pix[i] = Inside
			}
			perhaps[i] = away+0.1*r.Float64() < 0.25
		}
		p := NewParting(features, known)
		for seed := 1; seed <= 3; seed++ {
			got, err := p.Cut(perhaps, 3, seed)
			if err != nil {
				t.Fatal(err)
			}
			off := 0
			for i, in := range grabCut(t, features, known, perhaps, 3, seed) {
				if in != (got.Pix[i] != 0) {
					off++
				}
			}
			if off > 0 {
				t.Errorf("picture %d of %d × %d px, dice %d: %d pixels are on the other side", n, w, h, seed, off)
			}
		}
	}
}

// A side may begin as a single pixel.
func TestCutFromOnePixel(t *testing.T) {
	const w = 20
	known := image.NewGray(image.Rect(0, 0, w, w))
	features := make([]uint8, 3*w*w)
	for i := range known.Pix {
		if x, y := i%w, i/w; x > 5 && x < 15 && y > 5 && y < 15 {
			features[3*i] = 200
		}
	}
	perhaps := make([]bool, w*w)
	perhaps[10*w+10] = true
	piece, err := NewParting(features, known).Cut(perhaps, 3, 1)
	if err != nil || piece.Pix[7*w+7] == 0 || piece.Pix[2*w+2] != 0 {
		t.Errorf("the piece is not parted from the ground: %v", err)
	}
}
