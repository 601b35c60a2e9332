package calib

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"
)

// cardPhoto is a dark ball with a soft shadow on an 18 % card, in light that
// falls off and changes colour across it, with the noise of a phone.
func cardPhoto(w, h int) (p *Photo, light func(x, y float64) [3]float64) {
	p = &Photo{Width: w, Height: h, pix8: make([]uint8, 3*w*h)}
	p.setProfile(namedProfile(sRGB, "sRGB"), 256)
	light = func(x, y float64) [3]float64 {
		u, v := x/float64(w)-0.4, y/float64(w)-0.3
		e := 0.9 * math.Exp(-1.1*(u*u+v*v)-0.15*u)
		return [3]float64{e * (1 + 0.06*u), e, e * (0.92 - 0.05*v)}
	}
	random := rand.New(rand.NewPCG(5, 6))
	cx, cy, radius := 0.55*float64(w), 0.5*float64(h), 0.13*float64(w)
	for y := range h {
		for x := range w {
			r := CardReflectance
			away := math.Hypot(float64(x)-cx, float64(y)-cy)
			shadow := math.Hypot(float64(x)-cx-0.3*radius, float64(y)-cy-0.2*radius)
			r *= 1 - 0.5/(1+math.Exp((shadow-1.2*radius)/(0.15*radius)))
			if away < radius {
				r = 0.05
			}
			for k, e := range light(float64(x)+0.5, float64(y)+0.5) {
				noisy := 255*linearToSRGB(r*e) + 2*random.NormFloat64()
				p.pix8[3*(y*w+x)+k] = uint8(min(max(math.Round(noisy), 0), 255))
			}
		}
	}
	return p, light
}

func TestCardLight(t *testing.T) {
	p, light := cardPhoto(1500, 1125)
	card, err := FindCard(p, CardReflectance)
	if err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for y := 20.0; y < 1125; y += 45 {
		for x := 20.0; x < 1500; x += 60 {
			got, want := card.Light(x, y), light(x, y)
			for k := range got {
				worst = max(worst, math.Abs(got[k]/want[k]-1))
			}
		}
	}
	if !(worst < 0.015) { // 0.4 CIELAB units of lightness on the card
		t.Errorf("the light is off by up to %.2f %%", 100*worst)
	}
	if card.Share < 0.75 || card.Share > 0.93 {
		t.Errorf("%.0f %% of the photo is card in full light", 100*card.Share)
	}
	if in := card.Inside[card.Reduced.Height/2*card.Reduced.Width+int(0.55*float64(card.Reduced.Width))]; in {
		t.Error("the ball passes for card")
	}
}

// A card in the noise of a photo by lamplight, 3 % a reduced pixel, stays whole,
// and an edge of 0.1 still bounds it.
func TestSmoothMask(t *testing.T) {
	const w, h, edge = 200, 150, 120
	random := rand.New(rand.NewPCG(7, 8))
	for _, noise := range []float64{0, 0.01, 0.03} {
		var logs [3][]float32
		for k := range logs {
			logs[k] = make([]float32, w*h)
			for i := range logs[k] {
				level := 0.002 * float64(i/w) // falls off
				if i%w >= edge {
					level += 0.12
				}
				logs[k][i] = float32(level + noise*random.NormFloat64())
			}
		}
		smooth := smoothMask(logs, w, h)
		rough, through := 0, 0
		for i, m := range smooth.Pix {
			x, y := i%w, i/w
			switch {
			case x < 2 || y < 2 || x >= w-2 || y >= h-2:
			case x == edge-1 || x == edge:
				through += int(m) / 255
			case (x < edge-3 || x > edge+2) && m == 0:
				rough++
			}
		}
		if rough > w*h/100 || through > 2*h/4 {
			t.Errorf("noise of %g: %d of %d pixels are rough, %d of %d on the edge pass for smooth", noise, rough, w*h, through, 2*h)
		}
	}
}

// What the thinned search finds is what all pixels say.
func TestCardFitThinned(t *testing.T) {
	p, _ := cardPhoto(1500, 1125)
	lin := p.Linear(image.Rect(0, 0, p.Width, p.Height), 3)
	logs := logLevels(lin)
	all := make([]bool, len(lin.Top))
	for i := range all {
		all[i] = true
	}
	var fits [2]GreyCard
	for k, step := range []int{1, fitStep} {
		c := &fits[k]
		*c = GreyCard{Reflectance: CardReflectance, Reduced: lin, width: float64(p.Width), height: float64(p.Height)}
		if !c.fit(logs, all, step) {
			t.Fatal("no fit")
		}
	}
	worst := 0.0
	for y := 0.0; y <= 1125; y += 45 {
		for x := 0.0; x <= 1500; x += 60 {
			full, thin := fits[0].Light(x, y), fits[1].Light(x, y)
			for k := range full {
				worst = max(worst, math.Abs(thin[k]/full[k]-1))
			}
		}
	}
	other := 0
	for i, in := range fits[0].Inside {
		if in != fits[1].Inside[i] {
			other++
		}
	}
	if !(worst < 0.001) || other*200 > len(all) {
		t.Errorf("light differs by up to %.3f %%, want 0.1; %d of %d pixels fall otherwise, want half a percent", 100*worst, other, len(all))
	}
}

func BenchmarkFindCard12MP(b *testing.B) {
	p, _ := cardPhoto(4000, 3000)
	for b.Loop() {
		if _, err := FindCard(p, CardReflectance); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkShade12MP(b *testing.B) {
	p, _ := cardPhoto(4000, 3000)
	card, err := FindCard(p, CardReflectance)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		card.Shade(2200, 1500, 520)
	}
}
