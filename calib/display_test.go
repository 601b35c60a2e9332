package calib

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"testing"
)

// checker is an upright photo of black and white squares of one pixel.
func checker(w, h int) *Photo {
	p := &Photo{Width: w, Height: h, pix8: make([]uint8, 3*w*h)}
	p.setProfile(sRGB, 256)
	for i := range w * h {
		if (i%w+i/w)%2 == 1 {
			p.pix8[3*i], p.pix8[3*i+1], p.pix8[3*i+2] = 255, 255, 255
		}
	}
	return p
}

// Half black and half white is half the light: code 188, not 128 (IEC 61966-2-1).
func TestImageAveragesLight(t *testing.T) {
	m := checker(16, 16).Image(image.Rect(0, 0, 16, 16), 0.5)
	if m.Rect != image.Rect(0, 0, 8, 8) {
		t.Fatalf("picture is %v, want 8 × 8", m.Rect)
	}
	for i := 0; i < len(m.Pix); i += 4 {
		if m.Pix[i] != 188 || m.Pix[i+3] != 255 {
			t.Fatalf("pixel %d is %v, want 188 opaque", i/4, m.Pix[i:i+4])
		}
	}
}

func TestImageSizes(t *testing.T) {
	p := checker(40, 30)
	for _, c := range []struct {
		r     image.Rectangle
		scale float64
		w, h  int
	}{
		{image.Rect(0, 0, 40, 30), 1, 40, 30},
		{image.Rect(10, 10, 20, 15), 1, 10, 5},
		{image.Rect(10, 10, 20, 15), 3, 30, 15},
		{image.Rect(0, 0, 40, 30), 0.4, 16, 12},
		{image.Rect(0, 0, 40, 30), 0.01, 1, 1},
		{image.Rect(-5, -5, 5, 5), 1, 5, 5}, // cut to the photo
	} {
		if m := p.Image(c.r, c.scale); m.Rect.Dx() != c.w || m.Rect.Dy() != c.h {
			t.Errorf("Image(%v, %g) is %v, want %d × %d", c.r, c.scale, m.Rect, c.w, c.h)
		}
	}
}

func TestDisplayByte(t *testing.T) {
	for code := range 256 {
		if got := displayTable().of(float32(srgbToLinear(float64(code) / 255))); int(got) != code {
			t.Errorf("code %d comes back as %d", code, got)
		}
	}
	for x := -0.1; x < 1.1; x += 1e-5 {
		exact := math.Round(255 * linearToSRGB(min(max(x, 0), 1)))
		if got := float64(displayTable().of(float32(x))); math.Abs(got-exact) > 1 {
			t.Fatalf("code of %g: %g, want %g ± 1", x, got, exact)
		}
	}
	if got := displayTable().of(float32(math.NaN())); got != 0 {
		t.Errorf("not a number shows as %d, want 0", got)
	}
}

// Light, not codes, is multiplied: 18 % is code 118, half of it 87 (IEC
// 61966-2-1); what goes beyond white stays white. A colour that no grey card
// can have changes nothing.
func TestRelight(t *testing.T) {
	picture := func() *image.NRGBA {
		m := image.NewNRGBA(image.Rect(0, 0, 3, 1))
		for x, c := range []color.NRGBA{{100, 140, 118, 255}, {71, 101, 84, 255}, {250, 20, 20, 128}} {
			m.SetNRGBA(x, 0, c)
		}
		return m
	}
	m := picture()
	Relight(m, color.NRGBA{100, 140, 118, 255}, 0.18)
	if got := m.NRGBAAt(0, 0); got != (color.NRGBA{118, 118, 118, 255}) {
		t.Errorf("the card became %v, want 118 each", got)
	}
	for k, v := range []uint8{m.Pix[4], m.Pix[5], m.Pix[6]} {
		linear := srgbToLinear(float64([]uint8{71, 101, 84}[k])/255) * 0.18 / srgbToLinear(float64([]uint8{100, 140, 118}[k])/255)
		if want := math.Round(255 * linearToSRGB(linear)); float64(v) != want {
			t.Errorf("channel %d of half the light became %d, want %.0f", k, v, want)
		}
	}
	if got := m.NRGBAAt(2, 0); got.R != 255 || got.A != 128 {
		t.Errorf("a bright red became %v, want its red at 255 and its opacity kept", got)
	}
	m = picture()
	Relight(m, color.NRGBA{240, 20, 20, 255}, 0.18)
	if !bytes.Equal(m.Pix, picture().Pix) {
		t.Error("a red edge was taken for a grey card")
	}
}
