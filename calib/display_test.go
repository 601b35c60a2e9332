package calib

import (
	"image"
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
		if got := displayByte(float32(srgbToLinear(float64(code) / 255))); int(got) != code {
			t.Errorf("code %d comes back as %d", code, got)
		}
	}
	for x := -0.1; x < 1.1; x += 1e-5 {
		exact := math.Round(255 * linearToSRGB(min(max(x, 0), 1)))
		if got := float64(displayByte(float32(x))); math.Abs(got-exact) > 1 {
			t.Fatalf("displayByte(%g) = %g, want %g ± 1", x, got, exact)
		}
	}
	if got := displayByte(float32(math.NaN())); got != 0 {
		t.Errorf("not a number shows as %d, want 0", got)
	}
}
