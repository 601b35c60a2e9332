package calib

import "testing"

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
	surface := func(is func(x, y int) bool) *GreyCard { return surfaceOf(w, h, is, is) }
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

// A hook across the card parts it: neither part is large enough to make a table of
// what lies around, both together are.
func TestUnderPieceAcrossHook(t *testing.T) {
	const w, h = 160, 110
	onCard := func(x, y int) bool { return x >= 30 && x < 130 && y >= 25 && y < 85 }
	onHook := func(x, y int) bool {
		return onCard(x, y) && x >= 70 && x < 75 || x >= 90 && x < 115 && y >= 45 && y < 70
	}
	card := func(smooth func(x int) bool) *GreyCard {
		return surfaceOf(w, h,
			func(x, y int) bool { return onCard(x, y) && !onHook(x, y) && smooth(x) },
			func(x, y int) bool { return onCard(x, y) && !onHook(x, y) })
	}
	offCard := func(x, y int) bool { return !onCard(x, y) && !onHook(x, y) }
	table := surfaceOf(w, h, offCard, offCard)
	left, right := card(func(x int) bool { return x < 70 }), card(func(x int) bool { return x >= 75 })
	got, err := underPiece([]*GreyCard{table, left, right})
	if err != nil {
		t.Fatal(err)
	}
	if got == table {
		t.Error("the piece lies on the table")
	}
}

// The light on one smooth stripe of a wooden table goes on over others all about: their
// borders are not within it.
func TestUnderPieceNoStripe(t *testing.T) {
	const w, h = 120, 90
	onCard := func(x, y int) bool { return x >= 20 && x < 70 && y >= 20 && y < 60 }
	onHead := func(x, y int) bool { return x >= 35 && x < 50 && y >= 30 && y < 50 }
	isCard := func(x, y int) bool { return onCard(x, y) && !onHead(x, y) }
	card := surfaceOf(w, h, isCard, isCard)
	stripe := surfaceOf(w, h,
		func(x, y int) bool { return y < 12 },
		func(x, y int) bool { return !onCard(x, y) && (y < 12 || y%5 < 2) })
	got, err := underPiece([]*GreyCard{stripe, card})
	if err != nil {
		t.Fatal(err)
	}
	if got != card {
		t.Error("the piece lies on a stripe of the table")
	}
}

func surfaceOf(w, h int, smooth, inside func(x, y int) bool) *GreyCard {
	c := &GreyCard{Reduced: &Linear{Width: w, Height: h}, smooth: make([]bool, w*h), Inside: make([]bool, w*h)}
	for i := range c.Inside {
		c.smooth[i], c.Inside[i] = smooth(i%w, i/w), inside(i%w, i/w)
	}
	return c
}
