package inspect

import (
	"image"

	"jigloupe/calib/cv"
)

const wireMark = 3

// wireMask finds hook and eye beside the head: thin things that differ from
// their surroundings in level or hue, whereas the card and its shadows change
// slowly. It looks outside the head only.
func wireMask(t *tones, edge cv.Plane, head *image.Gray, radius float64) (*image.Gray, error) {
	contrast, err := localContrast(t, head, max(6, 0.12*radius))
	if err != nil {
		return nil, err
	}
	const thin, plain = 0.22, 0.07 // log ratio to the surroundings
	marks := make([]uint8, len(contrast.Pix))
	for i, c := range contrast.Pix {
		switch {
		case head.Pix[i] != 0:
			marks[i] = pieceMark
		case c > thin:
			marks[i] = wireMark
		case c < plain:
			marks[i] = cardMark
		}
	}
	wire := image.NewGray(head.Rect)
	for i, l := range flood(edge, marks) {
		if l == wireMark {
			wire.Pix[i] = 255
		}
	}
	return wire, nil
}

// localContrast is how far each pixel is from the mean of what lies around it
// outside the head, in the channel where that is most.
func localContrast(t *tones, head *image.Gray, spread float64) (cv.Plane, error) {
	const odd = 0.15 // log ratio: farther from a first mean, a pixel has no say in the second
	first, err := contrastTo(t, head, head, spread)
	if err != nil {
		return cv.Plane{}, err
	}
	out := image.NewGray(head.Rect)
	for i, c := range first.Pix {
		if head.Pix[i] != 0 || c >= odd {
			out.Pix[i] = 255
		}
	}
	return contrastTo(t, head, out, spread)
}

// contrastTo is, outside the head, the largest difference of any channel from the
// mean around of all but what is left out.
func contrastTo(t *tones, head, leftOut *image.Gray, spread float64) (cv.Plane, error) {
	norm, err := cv.Soften(t.w, t.h, spread, func(y int, row []float32) {
		for x, v := range leftOut.Pix[y*t.w:][:t.w] {
			row[x] = 0
			if v == 0 {
				row[x] = 1
			}
		}
	})
	if err != nil {
		return cv.Plane{}, err
	}
	out := cv.NewPlane(t.w, t.h)
	mean, weight := make([]float32, t.w), make([]float32, t.w)
	for _, p := range t.plane {
		soft, err := cv.Soften(t.w, t.h, spread, func(y int, row []float32) {
			out := leftOut.Pix[y*t.w:][:t.w]
			for x, v := range p.Pix[y*t.w:][:t.w] {
				row[x] = 0
				if out[x] == 0 {
					row[x] = v
				}
			}
		})
		if err != nil {
			return cv.Plane{}, err
		}
		for y := range t.h {
			soft.Row(y, mean)
			norm.Row(y, weight)
			head, to := head.Pix[y*t.w:][:t.w], out.Pix[y*t.w:][:t.w]
			for x, v := range p.Pix[y*t.w:][:t.w] {
				if head[x] == 0 {
					d := v - mean[x]/max(weight[x], 1e-3)
					to[x] = max(to[x], d, -d)
				}
			}
		}
	}
	return out, nil
}
