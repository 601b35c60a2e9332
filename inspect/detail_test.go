package inspect

import (
	"image"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect/scene"
)

// pewter is a metallic coat as grey as the card.
var pewter = scene.Coat{Flake: scene.Aluminium(), FlakeShare: 0.35, Pigment: scene.RGB{0.13, 0.13, 0.13}, SpreadDeg: 12, Sparkle: 0.7}

// A grey head is found by its detail where its colour is the card's: whole, without
// its eye, and known to be rough.
func TestGreyHeadIsFoundByDetail(t *testing.T) {
	spec := onCard(scene.Ball, pewter)
	spec.Width, spec.Height, spec.MMPerPx, spec.Light = 640, 500, 0.035, scene.Softbox(60, 5600)
	if l, overlap := lookOver(t, spec); !l.rough || overlap < 0.9 {
		t.Errorf("rough %v, overlap %.3f, want a rough outline that overlaps by 0.9", l.rough, overlap)
	}
}

// An empty card with dust has detail, but nothing thick.
func TestNoHeadInDust(t *testing.T) {
	spec := onCard(scene.Ball, pewter)
	spec.Width, spec.Height, spec.MMPerPx = 640, 500, 0.035
	spec.Pieces, spec.Specks, spec.Hairs = nil, 12, 3
	p, _ := shoot(t, spec)
	if _, err := lookAt(p, calib.CardReflectance); err == nil {
		t.Error("a head was found on an empty card")
	}
}

// The hole of an eye is left open, a dark ring round a glint in a head is not.
func TestOpenEyes(t *testing.T) {
	disc := func(m *image.Gray, x, y, r int, v uint8) {
		for dy := -r; dy <= r; dy++ {
			for dx := -r; dx <= r; dx++ {
				if dx*dx+dy*dy <= r*r {
					m.Pix[(y+dy)*m.Stride+x+dx] = v
				}
			}
		}
	}
	raw, mask := image.NewGray(image.Rect(0, 0, 200, 120)), image.NewGray(image.Rect(0, 0, 200, 120))
	for _, m := range []*image.Gray{raw, mask} {
		disc(m, 60, 60, 40, 255)  // the head
		disc(m, 120, 60, 16, 255) // the eye touches its bridge
		for x := 95; x < 110; x++ {
			for y := 55; y < 65; y++ {
				m.Pix[y*m.Stride+x] = 255
			}
		}
	}
	disc(raw, 60, 60, 37, 0) // only the outline and a glint have detail
	disc(raw, 60, 60, 12, 255)
	disc(raw, 120, 60, 7, 0)
	e := &enclosed{raw: raw, mask: mask}
	if err := e.openEyes(40); err != nil {
		t.Fatal(err)
	}
	if mask.GrayAt(120, 60).Y != 0 {
		t.Error("the eye was filled")
	}
	if mask.GrayAt(60, 85).Y == 0 {
		t.Error("the head was opened")
	}
}
