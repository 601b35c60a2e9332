package inspect

import (
	"image"

	"jigloupe/calib"
)

// byUnlit looks at what light didn't reach as card, a mask of the reduced picture; nil when
// nothing there stands out as a head most of which is darker than the card.
func (found *look) byUnlit(p *calib.Photo, rest *image.Gray) *look {
	at, err := thickest(rest, found.card.Reduced.Step)
	if err != nil {
		return nil
	}
	l, err := found.wholeAt(p, at)
	if err != nil || !l.stands() {
		return nil
	}
	darker := 0
	for i, v := range l.shape.head.Pix {
		switch {
		case v == 0:
		case l.tones.plane[1].Pix[i] < float32(fullTone):
			darker++
		default:
			darker--
		}
	}
	if darker < 0 {
		return nil
	}
	return l
}
