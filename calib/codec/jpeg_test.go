package codec

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"testing"
)

// Go's own decoder says what is in the file: a smooth picture as it was, and as
// large as Go's own encoder makes it, whatever type holds it.
func TestEncodeJPEG(t *testing.T) {
	const w, h = 61, 43
	whole := image.NewRGBA(image.Rect(0, 0, w+9, h+5))
	for y := range h + 5 {
		for x := range w + 9 {
			whole.SetRGBA(x, y, color.RGBA{uint8(40 + 2*x), uint8(200 - 3*y), uint8(60 + x + y), 255})
		}
	}
	part := whole.SubImage(image.Rect(9, 5, 9+w, 5+h)).(*image.RGBA)
	gray := image.NewGray(image.Rect(0, 0, w, h))
	for i := range gray.Pix {
		gray.Pix[i] = uint8(i % w * 3)
	}
	for _, m := range []image.Image{part, &image.NRGBA{Pix: part.Pix, Stride: part.Stride, Rect: part.Rect}, gray} {
		file, err := EncodeJPEG(m, 90)
		if err != nil {
			t.Fatal(err)
		}
		got, err := jpeg.Decode(bytes.NewReader(file))
		if err != nil || got.Bounds() != image.Rect(0, 0, w, h) {
			t.Fatalf("%T: %v, %v", m, got.Bounds(), err)
		}
		sum := 0.0
		for y := range h {
			for x := range w {
				r, g, b, _ := got.At(x, y).RGBA()
				u, v, w, _ := m.At(m.Bounds().Min.X+x, m.Bounds().Min.Y+y).RGBA()
				sum += math.Abs(float64(r)-float64(u)) + math.Abs(float64(g)-float64(v)) + math.Abs(float64(b)-float64(w))
			}
		}
		if off := sum / (3 * w * h) / 257; off > 1.5 {
			t.Errorf("%T: samples are off by %.2f codes on average", m, off)
		}
		var theirs bytes.Buffer
		if err := jpeg.Encode(&theirs, m, &jpeg.Options{Quality: 90}); err != nil {
			t.Fatal(err)
		}
		if m != image.Image(gray) && math.Abs(float64(len(file))/float64(theirs.Len())-1) > 0.1 {
			t.Errorf("%T: %d bytes, Go's encoder makes %d", m, len(file), theirs.Len())
		}
	}
	if _, err := EncodeJPEG(image.NewRGBA(image.Rect(0, 0, 0, 4)), 90); err == nil {
		t.Error("an empty picture makes a file")
	}
}
