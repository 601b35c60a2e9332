package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// leftOut is the widest place, off the wire, that the outline leaves out on one side
// of a head and has on the other. Bare metal at the outline looks like shaded card,
// and where a grey coat hardly stands out from the card either, the outline passes
// it by.
func (l *look) leftOut() ([]spot, error) {
	const steady = 2 * leastFirm // twice as firm as an outline must be, and none was found to pass by metal
	if l.firm >= steady {
		return nil, nil
	}
	s := l.shape
	m := image.NewGray(s.head.Rect)
	for i := range m.Pix {
		if s.head.Pix[i] != 0 || float64(s.clear.Pix[i]) <= wireClear*s.gauge || l.tones.level[1].Pix[i] > brightestMetal {
			continue
		}
		x, y := float64(i%s.w), float64(i/s.w)
		off := 2 * l.axis.across(x, y)
		q := image.Pt(int(math.Round(x+off*l.axis.dy)), int(math.Round(y-off*l.axis.dx)))
		if q.In(m.Rect) && s.head.Pix[q.Y*s.w+q.X] != 0 {
			m.Pix[i] = 255
		}
	}
	depth, err := cv.Distance(m)
	if err != nil {
		return nil, err
	}
	middle := 0
	for i, v := range depth.Pix {
		if v > depth.Pix[middle] {
			middle = i
		}
	}
	radius := float64(depth.Pix[middle])
	if radius < thinRim {
		return nil, nil
	}
	x, y := float64(middle%s.w), float64(middle/s.w)
	sp := spot{blob: cv.Blob{X: x, Y: y}, least: bareAt, beside: true}
	for i, v := range m.Pix {
		if v != 0 && math.Hypot(float64(i%s.w)-x, float64(i/s.w)-y) <= radius {
			sp.pixels = append(sp.pixels, i)
		}
	}
	return []spot{sp}, nil
}
