package main

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"math/rand/v2"
	"testing"
)

// Masks of all shapes are read as what they are.
func TestMaskPNG(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for n := range 300 {
		w, h := 1+r.IntN(900), 1+r.IntN(40)
		x, y := r.IntN(w), r.IntN(h)
		m := image.NewGray(image.Rect(x, y, x+1+r.IntN(w-x), y+1+r.IntN(h-y)))
		length := 1 + r.IntN(300) // of runs, on average
		value := uint8(255 * (n % 2))
		for i := range m.Pix {
			if n > 2 && r.IntN(length) == 0 {
				value ^= 255
			}
			m.Pix[i] = value
		}
		want := image.NewGray(image.Rect(0, 0, w, h))
		draw.Draw(want, m.Rect, m, m.Rect.Min, draw.Src)
		got, err := png.Decode(bytes.NewReader(maskPNG(m, w, h)))
		if err != nil {
			t.Fatalf("%v in %d × %d px: %v", m.Rect, w, h, err)
		}
		if gray, ok := got.(*image.Gray); !ok || !bytes.Equal(gray.Pix, want.Pix) {
			t.Fatalf("%v in %d × %d px comes out otherwise", m.Rect, w, h)
		}
	}
}

func BenchmarkMaskPNG(b *testing.B) {
	m := image.NewGray(image.Rect(1500, 900, 2500, 2100))
	for i := range m.Pix {
		if x, y := i%1000-500, i/1000-600; x*x+y*y < 480*480 {
			m.Pix[i] = 255
		}
	}
	for b.Loop() {
		b.SetBytes(int64(len(maskPNG(m, 4000, 3000))))
	}
}
