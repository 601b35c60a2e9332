package scene

import (
	"math"
	"testing"
)

func TestToneCurve(t *testing.T) {
	plain, strong := Camera{}.curve(), Camera{Tone: 0.8}.curve()
	for i := range 256 {
		// the inverse of the sRGB curve, then our curve, is the identity
		if got := plain.at(float32(decode(uint8(i)))) * 255; math.Abs(float64(got)-float64(i)) > 0.1 {
			t.Errorf("%d comes back as %.2f", i, got)
		}
	}
	last := float32(-1)
	for i := range 1000 {
		v := strong.at(float32(i) / 999)
		if v <= last {
			t.Fatalf("a strong tone curve turns back at %d", i)
		}
		last = v
	}
	if strong.at(0.05) >= plain.at(0.05) {
		t.Error("an S-shaped curve must darken the shadows")
	}
}

// A Gaussian blur keeps the light and gives an edge the slope of its own width.
func TestBlurOfAnEdge(t *testing.T) {
	const sd = 2.0
	f := newFrame(80, 40, 1)
	for y := range 40 {
		for x := range 80 {
			if x >= 40 {
				f.set(x, y, RGB{1, 1, 1})
			}
		}
	}
	f.blur(sd)
	for x := range 80 {
		want := 0.5 * (1 + math.Erf((float64(x)+0.5-40)/(sd*math.Sqrt2)))
		if got := f.get(x, 20)[0]; math.Abs(got-want) > 0.01 {
			t.Errorf("%d px: %.4f, want %.4f", x, got, want)
		}
	}
}

// Photon noise: the variance is the signal over the full well, plus the read
// noise (EMVA 1288, photon transfer).
func TestNoise(t *testing.T) {
	const well, read = 400.0, 5.0
	f := newFrame(300, 200, 1)
	for i := range f.pix {
		f.pix[i] = 0.2
	}
	img := Camera{FullWell: well, ReadNoise: read}.shoot(f, RGB{1, 1, 1}, 3)
	var sum, square, n float64
	for i := range 300 * 200 {
		v := decode(img.Pix[4*i])
		sum, square, n = sum+v, square+v*v, n+1
	}
	mean := sum / n
	got, want := square/n-mean*mean, (0.2*well+read*read)/(well*well)
	if math.Abs(mean-0.2) > 0.002 || math.Abs(got/want-1) > 0.05 {
		t.Errorf("mean %.4f, variance %.3g, want 0.2 and %.3g", mean, got, want)
	}
}

func TestWhiteBalanceOff(t *testing.T) {
	s := plainBall(6, 0.1)
	s.Camera.Gains = RGB{1.3, 1, 0.7}
	img, _ := Render(s)
	c := img.NRGBAAt(150, 20)
	if r := decode(c.R) / decode(c.G); math.Abs(r-1.3) > 0.05 {
		t.Errorf("red over green is %.3f, want 1.3", r)
	}
	if b := decode(c.B) / decode(c.G); math.Abs(b-0.7) > 0.05 {
		t.Errorf("blue over green is %.3f, want 0.7", b)
	}
}
