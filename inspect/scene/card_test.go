package scene

import (
	"image"
	"image/color"
	"math"
	"testing"
)

// A turned card ends where plain trigonometry says, and the table begins there.
func TestCardEdge(t *testing.T) {
	s := Spec{Width: 200, Height: 160, MMPerPx: 0.1, Card: &Card{WidthMM: 12, HeightMM: 8, X: 1, Y: -0.5, TurnDeg: 30}, Table: WhiteTable}
	g := s.ground()
	sin, cos := math.Sincos(radians(30))
	for _, x := range []struct{ along, want float64 }{{5.8, 0.2}, {6, 0}, {6.4, -0.4}} {
		if got := g.inside(1+x.along*cos, -0.5-x.along*sin); math.Abs(got-x.want) > 1e-9 {
			t.Errorf("%v mm along the card: %.3f mm inside its edge, want %v", x.along, got, x.want)
		}
	}
	card, table := g.reflectance(1, -0.5)[1], g.reflectance(9, 7)[1]
	if math.Abs(card-0.18) > 0.01 || table < 0.7 {
		t.Errorf("card %.3f, table %.3f", card, table)
	}
	if low := (&Spec{Card: &Card{Reflectance: 0.12}, MMPerPx: 0.1}).ground().reflectance(0, 0)[1]; math.Abs(low-0.12) > 0.01 {
		t.Errorf("a 12 %% card shows %.3f", low)
	}
}

// A printed sheet shows its own reflectance, at its place and turned with it.
func TestFlat(t *testing.T) {
	sheet := image.NewNRGBA(image.Rect(0, 0, 2, 1))
	sheet.Set(0, 0, color.NRGBA{200, 60, 30, 255})
	sheet.Set(1, 0, color.NRGBA{20, 90, 160, 255})
	s := Spec{Width: 200, Height: 160, MMPerPx: 0.1, Card: &Card{}, Light: Tent(4000),
		Flats: []Flat{{Picture: sheet, WidthMM: 8, X: 2, Y: 1, TurnDeg: 90}}}
	img, _ := Render(s)
	for _, x := range []struct {
		px, py int
		want   color.NRGBA
	}{
		{120, 90 + 20, color.NRGBA{200, 60, 30, 255}}, // a quarter turn brings the left half to the bottom
		{120, 90 - 20, color.NRGBA{20, 90, 160, 255}},
		{120 + 25, 90, color.NRGBA{}}, // beside it is card
	} {
		got := img.NRGBAAt(x.px, x.py)
		if x.want == (color.NRGBA{}) {
			if got.R != got.G || got.G != got.B {
				t.Errorf("beside the sheet %v, want grey", got)
			}
			continue
		}
		for _, d := range []int{int(got.R) - int(x.want.R), int(got.G) - int(x.want.G), int(got.B) - int(x.want.B)} {
			if d < -1 || d > 1 {
				t.Errorf("at %d, %d the sheet shows %v, want %v", x.px, x.py, got, x.want)
				break
			}
		}
	}
}
