package inspect

import (
	"image"
	"math"

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
// outside the head, in the channel where that is most; 0 in the head.
func localContrast(t *tones, head *image.Gray, spread float64) (cv.Plane, error) {
	const odd = 0.15 // log ratio: farther from a first mean, a pixel has no say in the second
	use := make([]bool, t.w*t.h)
	for i, v := range head.Pix {
		use[i] = v == 0
	}
	contrast := cv.NewPlane(t.w, t.h)
	if err := contrastTo(t, head, use, spread, contrast); err != nil {
		return cv.Plane{}, err
	}
	for i, c := range contrast.Pix {
		use[i] = use[i] && c < odd
	}
	return contrast, contrastTo(t, head, use, spread, contrast)
}

// contrastTo fills in, outside the head, the largest difference of any channel from
// the mean around of the pixels in use.
func contrastTo(t *tones, head *image.Gray, use []bool, spread float64, to cv.Plane) error {
	means, err := cv.LocalMeans(t.plane, use, spread)
	if err != nil {
		return err
	}
	mean, share := [3][]float32{make([]float32, t.w), make([]float32, t.w), make([]float32, t.w)}, make([]float32, t.w)
	for y := range t.h {
		means.Row(y, 1e-3, &mean, share)
		r, g, b := t.plane[0].Pix[y*t.w:][:t.w], t.plane[1].Pix[y*t.w:][:t.w], t.plane[2].Pix[y*t.w:][:t.w]
		head, to := head.Pix[y*t.w:][:t.w], to.Pix[y*t.w:][:t.w]
		for x, v := range head {
			if v == 0 {
				u, v, w := r[x]-mean[0][x], g[x]-mean[1][x], b[x]-mean[2][x]
				to[x] = float32(max(math.Abs(float64(u)), math.Abs(float64(v)), math.Abs(float64(w))))
			}
		}
	}
	return nil
}
