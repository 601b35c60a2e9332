package reports

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"testing"

	"pgregory.net/rapid"
)

// Go's own decoder says what is in the file.
func TestMaskPNG(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 700).Draw(t, "w"), rapid.IntRange(1, 60).Draw(t, "h")
		x, y := rapid.IntRange(-5, w).Draw(t, "x"), rapid.IntRange(-5, h).Draw(t, "y")
		m := image.NewGray(image.Rect(x, y, x+rapid.IntRange(0, 700).Draw(t, "dx"), y+rapid.IntRange(0, 70).Draw(t, "dy")))
		at, value := 0, uint8(0)
		for _, n := range rapid.SliceOf(rapid.IntRange(1, 600)).Draw(t, "runs") {
			for ; n > 0 && at < len(m.Pix); n-- {
				m.Pix[at] = value
				at++
			}
			value = ^value
		}
		got, err := png.Decode(bytes.NewReader(MaskPNG(m, w, h)))
		if err != nil {
			t.Fatal(err)
		}
		if got.Bounds() != image.Rect(0, 0, w, h) || got.ColorModel() != color.GrayModel {
			t.Fatalf("%v of %v", got.Bounds(), got.ColorModel())
		}
		for y := range h {
			for x := range w {
				if g := got.(*image.Gray).GrayAt(x, y); g != m.GrayAt(x, y) {
					t.Fatalf("at %d, %d: %v, want %v", x, y, g, m.GrayAt(x, y))
				}
			}
		}
	})
}
