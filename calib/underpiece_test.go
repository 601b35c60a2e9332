package calib

import (
	"slices"
	"testing"
)

// What is around a ring is in it; beside the notch of an L is not.
func TestEnclosed(t *testing.T) {
	const w, h = 12, 10
	for name, shape := range map[string]struct{ is, in func(x, y int) bool }{
		"ring": {
			func(x, y int) bool { return x >= 2 && x < 10 && y >= 2 && y < 8 && (x < 4 || x > 7 || y < 4 || y > 5) },
			func(x, y int) bool { return x >= 2 && x < 10 && y >= 2 && y < 8 },
		},
		"U": {
			func(x, y int) bool { return x >= 2 && x < 10 && y >= 2 && y < 8 && (x < 4 || x > 7 || y > 5) },
			func(x, y int) bool { return x >= 2 && x < 10 && y >= 2 && y < 8 && (x < 4 || x > 7 || y > 5) },
		},
	} {
		marked := make([]bool, w*h)
		for i := range marked {
			marked[i] = shape.is(i%w, i/w)
		}
		marked[0] = true // a speck elsewhere
		got, err := enclosed(marked, w)
		if err != nil {
			t.Fatal(err)
		}
		for i, in := range got {
			if want := shape.in(i%w, i/w); in != want {
				t.Errorf("%s: (%d, %d) enclosed: %v, want %v", name, i%w, i/w, in, want)
			}
		}
	}
}

// A smooth head on a card on a larger, smooth table: neither the table, which
// has the most area, nor the head is what the piece lies on.
func TestUnderPiece(t *testing.T) {
	const w, h = 90, 70
	surface := func(is func(x, y int) bool) *GreyCard {
		c := &GreyCard{Reduced: &Linear{Width: w, Height: h}, Inside: make([]bool, w*h)}
		for i := range c.Inside {
			c.Inside[i] = is(i%w, i/w)
		}
		c.smooth = slices.Clone(c.Inside)
		return c
	}
	onCard := func(x, y int) bool { return x >= 22 && x < 68 && y >= 17 && y < 53 }
	onHead := func(x, y int) bool { return x >= 40 && x < 50 && y >= 30 && y < 40 }
	table := surface(func(x, y int) bool { return !onCard(x, y) })
	card := surface(func(x, y int) bool { return onCard(x, y) && !onHead(x, y) })
	head := surface(onHead)
	for i := range head.Inside { // the light on the head, carried on, is as dark as the card somewhere
		x, y := i%w, i/w
		head.Inside[i] = head.Inside[i] || (x == 26 || x == 64) && y > 20 && y < 50 || (y == 20 || y == 50) && x > 26 && x < 64
	}
	for _, found := range [][]*GreyCard{{table, card, head}, {head, card, table}} {
		got, err := underPiece(found)
		if err != nil {
			t.Fatal(err)
		}
		if got != card {
			t.Errorf("the piece lies on the wrong surface: table %v, head %v", got == table, got == head)
		}
	}
}
