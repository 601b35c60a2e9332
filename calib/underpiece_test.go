package calib

import "testing"

// A card on a table: the table is around both, the card around the piece.
func TestEnclosed(t *testing.T) {
	const w, h = 12, 10
	ring := make([]bool, w*h)
	for y := 2; y < 8; y++ {
		for x := 2; x < 10; x++ {
			ring[y*w+x] = x < 4 || x > 7 || y < 4 || y > 5
		}
	}
	ring[0] = true // a speck elsewhere
	got, err := enclosed(ring, w)
	if err != nil {
		t.Fatal(err)
	}
	for i, in := range got {
		x, y := i%w, i/w
		if want := x >= 2 && x < 10 && y >= 2 && y < 8; in != want {
			t.Errorf("(%d, %d) enclosed: %v, want %v", x, y, in, want)
		}
	}
}
