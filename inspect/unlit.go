package inspect

import "jigloupe/calib"

// byUnlit looks at what light didn't reach as card; nil when there is no such place, or it
// doesn't stand out as a head most of which is darker than the card.
func (found *look) byUnlit(p *calib.Photo, at *place) *look {
	if at == nil {
		return nil
	}
	l, err := found.wholeAt(p, *at)
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
