package main

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"testing"
)

// Go's own decoder, which checks both checksums, reads back what was drawn.
func TestMaskPNG(t *testing.T) {
	for _, c := range []struct {
		width, height int
		in            image.Rectangle
	}{
		{1, 1, image.Rect(0, 0, 1, 1)},
		{7, 5, image.Rect(0, 0, 7, 5)},
		{70, 1000, image.Rect(3, 400, 60, 470)},
		{70, 128, image.Rect(69, 127, 70, 128)},
		{4000, 3000, image.Rect(1500, 64, 2500, 1100)},
		{9, 9, image.Rectangle{}},
	} {
		m := image.NewGray(c.in)
		want := image.NewGray(image.Rect(0, 0, c.width, c.height))
		for i := range m.Pix {
			if x, y := i%max(m.Stride, 1), i/max(m.Stride, 1); (x*x+3*y)%5 < 3 {
				m.Pix[i] = 255
			}
		}
		draw.Draw(want, c.in, m, c.in.Min, draw.Src)
		file, err := maskPNG(m, c.width, c.height)
		if err != nil {
			t.Fatal(err)
		}
		got, err := png.Decode(bytes.NewReader(file))
		if err != nil {
			t.Fatalf("%d×%d, %v: %v", c.width, c.height, c.in, err)
		}
		if g, ok := got.(*image.Gray); !ok || g.Rect != want.Rect || !bytes.Equal(g.Pix, want.Pix) {
			t.Errorf("%d×%d, %v: another picture was read back", c.width, c.height, c.in)
		}
	}
}
