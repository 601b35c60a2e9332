package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// shape is the segmented piece in the pixels of its patch.
type shape struct {
	w, h   int
	head   *image.Gray // the painted head with its collar
	lip    *image.Gray // part of the head beyond the end of its coat
	wire   *image.Gray // hook and eye beside the head
	depth  cv.Plane    // distance to the outline of the head, px, inside the head
	centre image.Point // of the largest circle inside the head
	radius float64     // of that circle, px
	gauge  float64     // half the thickness of the wire, px
}

// splitHead parts the head from wire and eye: the head is what a disc thicker
// than the wire can reach (morphological opening), with its sharp corners.
func splitHead(t *tones, edge cv.Plane, piece *image.Gray, near image.Point) (*shape, error) {
	s := &shape{w: t.w, h: t.h}
	piece, err := blobAt(piece, near)
	if err != nil {
		return nil, err
	}
	if piece == nil {
		return nil, errNoPiece
	}
	dist, err := cv.Distance(piece)
	if err != nil {
		return nil, err
	}
	peak := 0
	for i, d := range dist.Pix {
		if d > dist.Pix[peak] {
			peak = i
		}
	}
	s.centre, s.radius = image.Pt(peak%t.w, peak/t.w), float64(dist.Pix[peak])
	if s.wire, err = wireMask(t, edge, piece, s.radius); err != nil {
		return nil, err
	}
	if s.gauge, err = wireGauge(s.wire, dist, s.radius); err != nil {
		return nil, err
	}
	if piece, s.lip, err = addRim(t, piece, s.centre, s.radius); err != nil {
		return nil, err
	}
	if dist, err = cv.Distance(piece); err != nil {
		return nil, err
	}
	if s.head, err = opening(dist, &edge, min(max(1.35*s.gauge+1, 0.14*s.radius), 0.45*s.radius), peak); err != nil {
		return nil, err
	}
	if s.head, err = fillHoles(s.head); err != nil {
		return nil, err
	}
	for i, p := range piece.Pix {
		switch {
		case s.head.Pix[i] != 0:
			s.wire.Pix[i] = 0
		case p != 0:
			s.wire.Pix[i] = 255
		}
	}
	s.depth, err = cv.Distance(s.head)
	return s, err
}

// wireGauge estimates half the thickness of the wire: the ridges of the
// distance map over all thin parts, whose height is one and the same along hook
// and eye. Without wire in view it is taken as common practice has it, no
// source.
func wireGauge(wire *image.Gray, piece cv.Plane, radius float64) (float64, error) {
	dist, err := cv.Distance(wire)
	if err != nil {
		return 0, err
	}
	least := float32(max(2, 0.03*radius)) // below are the fringes of shadows
	var ridge []float64
	for _, p := range [2]cv.Plane{dist, piece} {
		w, h := p.Width, p.Height
		for y := 1; y < h-1; y++ {
			for x := 1; x < w-1; x++ {
				i := y*w + x
				d := p.Pix[i]
				if d < least || float64(d) > 0.25*radius {
					continue
				}
				if d >= p.Pix[i-1] && d >= p.Pix[i+1] && d >= p.Pix[i-w] && d >= p.Pix[i+w] {
					ridge = append(ridge, float64(d))
				}
			}
		}
	}
	if len(ridge) < 10 {
		return 0.12 * radius, nil
	}
	slices.Sort(ridge)
	return ridge[len(ridge)*2/3], nil
}

// opening keeps what a disc of the given radius reaches inside a mask with the
// given distance map, in the part connected to pixel seed, and the corners the
// disc is too round for. Between those and what is too far out for a corner the
// strongest edge decides, if edges are given.
func opening(dist cv.Plane, edge *cv.Plane, radius float64, seed int) (*image.Gray, error) {
	r := image.Rect(0, 0, dist.Width, dist.Height)
	core := image.NewGray(r)
	for i, d := range dist.Pix {
		if float64(d) > radius {
			core.Pix[i] = 255
		}
	}
	cores, _, err := cv.Blobs(core)
	if err != nil {
		return nil, err
	}
	outside := image.NewGray(r)
	for i, l := range cores {
		if l == 0 || l != cores[seed] {
			outside.Pix[i] = 255
		}
	}
	reach, err := cv.Distance(outside)
	if err != nil {
		return nil, err
	}
	const corner = 1.2 // a right angle reaches √2 radii from the disc's centre
	opened := image.NewGray(r)
	if edge == nil {
		for i, d := range reach.Pix {
			if dist.Pix[i] > 0 && float64(d) <= corner*radius {
				opened.Pix[i] = 255
			}
		}
		return opened, nil
	}
	thin := image.NewGray(r)
	for i, d := range reach.Pix {
		if dist.Pix[i] > 0 && float64(d) > corner*radius {
			thin.Pix[i] = 255
		}
	}
	labels, blobs, err := cv.Blobs(thin)
	if err != nil {
		return nil, err
	}
	marks := make([]uint8, len(reach.Pix))
	for i, d := range reach.Pix {
		switch l := labels[i]; {
		case dist.Pix[i] == 0:
			marks[i] = cardMark
		case float64(d) <= 0.9*radius:
			marks[i] = pieceMark
		case l > 0 && float64(blobs[l-1].Area) > 4*radius*radius: // hook or eye, not the tip of a lip
			marks[i] = wireMark
		}
	}
	for i, l := range flood(*edge, marks) {
		if l != wireMark && dist.Pix[i] > 0 && float64(reach.Pix[i]) <= corner*radius {
			opened.Pix[i] = 255
		}
	}
	return opened, nil
}

// blobAt returns the connected part of the mask at or nearest to a point, nil
// when the mask is empty.
func blobAt(mask *image.Gray, near image.Point) (*image.Gray, error) {
	labels, blobs, err := cv.Blobs(mask)
	if err != nil || len(blobs) == 0 {
		return nil, err
	}
	w := mask.Rect.Dx()
	best, bestD := int32(0), math.Inf(1)
	for i, l := range labels {
		if l != 0 {
			if d := math.Hypot(float64(i%w-near.X), float64(i/w-near.Y)); d < bestD {
				best, bestD = l, d
			}
		}
	}
	out := image.NewGray(mask.Rect)
	for i, l := range labels {
		if l == best {
			out.Pix[i] = 255
		}
	}
	return out, nil
}

// fillHoles closes every gap that does not reach the border of the picture.
func fillHoles(mask *image.Gray) (*image.Gray, error) {
	inv := image.NewGray(mask.Rect)
	for i, v := range mask.Pix {
		inv.Pix[i] = 255 - v
	}
	labels, blobs, err := cv.Blobs(inv)
	if err != nil {
		return nil, err
	}
	edge := make([]bool, len(blobs)+1)
	for _, b := range blobs {
		edge[b.Label] = b.Bounds.Min.X == 0 || b.Bounds.Min.Y == 0 || b.Bounds.Max.X == mask.Rect.Dx() || b.Bounds.Max.Y == mask.Rect.Dy()
	}
	out := image.NewGray(mask.Rect)
	for i, l := range labels {
		if l == 0 || !edge[l] {
			out.Pix[i] = 255
		}
	}
	return out, nil
}
