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
	outside := cv.NewPlane(t.w, t.h)
	for i, v := range head.Pix {
		if v == 0 {
			outside.Pix[i] = 1
		}
	}
	first, err := contrastTo(t, outside, outside, spread)
	if err != nil {
		return cv.Plane{}, err
	}
	weight := cv.NewPlane(t.w, t.h)
	for i, c := range first.Pix {
		if outside.Pix[i] > 0 && c < odd {
			weight.Pix[i] = 1
		}
	}
	return contrastTo(t, outside, weight, spread)
}

// contrastTo is the largest difference of any channel from the weighted mean
// around, where wanted.
func contrastTo(t *tones, wanted, weight cv.Plane, spread float64) (cv.Plane, error) {
	norm, err := cv.Gaussian(weight, spread)
	if err != nil {
		return cv.Plane{}, err
	}
	out := cv.NewPlane(t.w, t.h)
	for k := range t.plane {
		masked := cv.NewPlane(t.w, t.h)
		for i, v := range t.plane[k].Pix {
			masked.Pix[i] = v * weight.Pix[i]
		}
		mean, err := cv.Gaussian(masked, spread)
		if err != nil {
			return cv.Plane{}, err
		}
		for i, v := range t.plane[k].Pix {
			if wanted.Pix[i] > 0 {
				d := v - mean.Pix[i]/max(norm.Pix[i], 1e-3)
				out.Pix[i] = max(out.Pix[i], d, -d)
			}
		}
	}
	return out, nil
}
