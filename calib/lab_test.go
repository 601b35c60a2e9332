package calib

import (
	"fmt"
	"math"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
	"pgregory.net/rapid"
)

// IEC 61966-2-1 and SMPTE EG 432-1 primaries to XYZ and CIELAB: exact constants,
// recomputed by two independent programs.
func TestPublishedColours(t *testing.T) {
	spaces := map[string]space{"srgb": srgbSpace, "display-p3": p3Space}
	for _, row := range checkTable(t, "02_rgb_xyz_lab.csv") {
		s, known := spaces[row["space"]]
		if !known {
			t.Fatalf("unknown space %q", row["space"])
		}
		rgb := numbers3(t, row, "r", "g", "b")
		what := fmt.Sprintf("%s %v: ", row["space"], rgb)
		for k := range rgb {
			rgb[k] = srgbToLinear(rgb[k])
		}
		near3(t, what+"XYZ under D65", s.toXYZ().apply(rgb), numbers3(t, row, "X65", "Y65", "Z65"), 1e-9)

		v := s.toSRGB().apply(rgb)
		c := LinearRGB{v[0], v[1], v[2]}
		xyz := c.XYZ()
		near3(t, what+"XYZ under D50", [3]float64{xyz.X, xyz.Y, xyz.Z}, numbers3(t, row, "X50", "Y50", "Z50"), 1e-9)
		want := numbers3(t, row, "L50", "a50", "b50")
		for _, lab := range []Lab{c.Lab(), xyz.Lab()} {
			near3(t, what+"Lab", [3]float64{lab.L, lab.A, lab.B}, want, 1e-8) // the table's ten decimals, times 500
		}
	}
}

// 18 % is L* 49.4961. CIE 15; IEC 61966-2-1 for the code.
func TestGreyLightness(t *testing.T) {
	for _, row := range checkTable(t, "04_grey_lightness_density.csv") {
		y := number(t, row, "Y")
		grey := LinearRGB{y, y, y}
		near3(t, fmt.Sprintf("Lab of %v", grey), [3]float64{grey.Lab().L, grey.Lab().A, grey.Lab().B}, [3]float64{number(t, row, "Lstar"), 0, 0}, 1e-6)
		near(t, fmt.Sprintf("linearToSRGB(%g)", y), linearToSRGB(y), number(t, row, "srgb"), 1e-8)
		code := uint8(number(t, row, "srgb8"))
		if rgb, in := grey.SRGB(); rgb != [3]uint8{code, code, code} || !in {
			t.Errorf("%v.SRGB() = %v, %v, want %d", grey, rgb, in, code)
		}
	}
}

// The 24-patch target of McCamy, Marcus and Davidson, J. Appl. Photogr. Eng.
// 2(3), 95–99 (1976): two printed sets agree, so do ours after a round trip
// through every conversion.
func TestTarget24(t *testing.T) {
	for _, row := range checkTable(t, "03_target24_lab_d50.csv") {
		one := numbers3(t, row, "L_pre", "a_pre", "b_pre")
		two := numbers3(t, row, "L_ref2008", "a_ref2008", "b_ref2008")
		lab := Lab{one[0], one[1], one[2]}.LinearRGB().Lab()
		near3(t, row["name"], [3]float64{lab.L, lab.A, lab.B}, two, 0.03)
	}
}

func TestGamut(t *testing.T) {
	for _, c := range []struct {
		in   LinearRGB
		rgb  [3]uint8
		fits bool
	}{
		{LinearRGB{0, 0, 0}, [3]uint8{0, 0, 0}, true},
		{LinearRGB{1, 1, 1}, [3]uint8{255, 255, 255}, true},
		{LinearRGB{1.01, 1, 1}, [3]uint8{255, 255, 255}, false},     // IEC 61966-2-1: code 256.1
		{LinearRGB{-0.0001, 0.5, 0.5}, [3]uint8{0, 188, 188}, true}, // code −0.33 rounds to 0
		{LinearRGB{-0.001, 0.5, 0.5}, [3]uint8{0, 188, 188}, false}, // code −3.3
		{LinearRGB{math.NaN(), 0.5, 0.5}, [3]uint8{0, 188, 188}, false},
		{LinearRGB{math.Inf(1), math.Inf(-1), 0.5}, [3]uint8{255, 0, 188}, false},
	} {
		if rgb, fits := c.in.SRGB(); rgb != c.rgb || fits != c.fits {
			t.Errorf("%v.SRGB() = %v, %v, want %v, %v", c.in, rgb, fits, c.rgb, c.fits)
		}
	}
}

// apart is the distance of two colours in CIELAB.
func apart(x, y Lab) float64 { return math.Hypot(x.L-y.L, math.Hypot(x.A-y.A, x.B-y.B)) }

func TestLabRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawLab(t, "lab")
		if got := want.LinearRGB().Lab(); apart(want, got) > 1e-9 {
			t.Fatalf("%v comes back as %v", want, got)
		}
	})
}

// A second opinion on CIELAB itself, with our white.
func TestLabSecondOpinion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := rapid.Float64Range(0, 1.2)
		x := XYZ{draw.Draw(t, "X"), draw.Draw(t, "Y"), draw.Draw(t, "Z")}
		l, a, b := colorful.XyzToLabWhiteRef(x.X, x.Y, x.Z, white)
		if got, want := x.Lab(), (Lab{100 * l, 100 * a, 100 * b}); apart(got, want) > 2e-4 {
			// The library's 7.787 and 0.008856 are CIE 15's rounded constants.
			t.Fatalf("%v.Lab() = %v, second opinion %v", x, got, want)
		}
	})
}

func TestCubeRoot(t *testing.T) {
	for x := 0.008; x < 20; x *= 1.0001 {
		if got, want := cubeRoot(x), math.Cbrt(x); math.Abs(got-want) > 1e-12*want {
			t.Fatalf("cubeRoot(%g) = %.17g, want %.17g", x, got, want)
		}
	}
}

func TestHue(t *testing.T) {
	for _, c := range []struct{ a, b, want float64 }{
		{1, 0, 0}, {0, 1, 90}, {-1, 0, 180}, {0, -1, 270}, {1, -1, 315}, {0, 0, 0}, {math.Copysign(0, -1), 0, 0},
	} {
		near(t, fmt.Sprintf("hue of a* %g, b* %g", c.a, c.b), Lab{50, c.a, c.b}.HueDeg(), c.want, 1e-12)
	}
}

// A megapixel of independent colours, as in the travel measure.
func BenchmarkLab1MP(b *testing.B) {
	pix := make([]LinearRGB, 1e6)
	for i := range pix {
		pix[i] = LinearRGB{float64(i%1000) / 1000, float64(i%777) / 777, float64(i%333) / 333}
	}
	var sum float64
	b.Run("Lab", func(b *testing.B) {
		for b.Loop() {
			for _, c := range pix {
				sum += c.Lab().L
			}
		}
	})
	b.Run("plain", func(b *testing.B) { // what Lab replaces
		for b.Loop() {
			for _, c := range pix {
				x := c.XYZ()
				sum += math.Cbrt(x.X) + math.Cbrt(x.Y) + math.Cbrt(x.Z)
			}
		}
	})
}
