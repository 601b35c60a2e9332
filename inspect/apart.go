package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// partApart is the largest part of what is taken for wire, near the head, that has
// more room in it than wire has, more of the coat's hue than metal, and from which
// the hook goes on: a collar that a bare band which looks like card cuts off. An
// eye is where wire ends. Nil when there is none.
func (s *shape) partApart(t *tones) (*cv.Blob, error) {
	const gap, on = 0.6, 0.7 // radii: the widest bare band between the two, and how far the hook goes on
	dist, err := cv.Distance(s.wire)
	if err != nil {
		return nil, err
	}
	radius := s.discRadius()
	m := image.NewGray(s.wire.Rect)
	for i, d := range dist.Pix {
		if float64(d) > radius {
			m.Pix[i] = 255
		}
	}
	thick, parts, err := cv.Runs(m)
	if err != nil || !slices.ContainsFunc(parts, func(b cv.Blob) bool { return float64(b.Area) > sq(radius) }) {
		return nil, err
	}
	fromHead, err := cv.Near(inverse(s.head), gap*s.radius+radius+1)
	if err != nil {
		return nil, err
	}
	beside := make([]bool, len(parts)+1)
	for _, r := range thick {
		for _, d := range fromHead.Pix[r.At:][:r.Len] {
			beside[r.Label] = beside[r.Label] || float64(d) < gap*s.radius+radius
		}
	}
	wires, blobs, err := cv.Runs(s.wire)
	if err != nil {
		return nil, err
	}
	away := func(x, y float64) float64 { return math.Hypot(x-float64(s.centre.X), y-float64(s.centre.Y)) }
	reach := make([]float64, len(blobs)+1)
	for _, r := range wires { // its ends are farthest
		x, y := float64(int(r.At)%s.w), float64(int(r.At)/s.w)
		reach[r.Label] = max(reach[r.Label], away(x, y), away(x+float64(r.Len-1), y))
	}
	head, parted := [2][]float32{}, make([][2][]float32, len(parts)+1)
	for i, v := range s.head.Pix {
		if v != 0 {
			u, v := t.hue(i)
			head[0], head[1] = append(head[0], u), append(head[1], v)
		}
	}
	for _, r := range thick {
		of := &parted[r.Label]
		for i := int(r.At); i < int(r.At+r.Len); i++ {
			if s.head.Pix[i] == 0 {
				u, v := t.hue(i)
				of[0], of[1] = append(of[0], u), append(of[1], v)
			}
		}
	}
	middle := func(hues [2][]float32) (u, v float64) {
		return float64(nth(hues[0], len(hues[0])/2)), float64(nth(hues[1], len(hues[1])/2))
	}
	u, v := middle(head)
	var most *cv.Blob
	for k, b := range parts {
		far := away(b.X, b.Y)
		wire, middleOf := int32(0), int32(int(b.Y+0.5)*s.w+int(b.X+0.5))
		for _, r := range wires {
			if r.At <= middleOf && middleOf < r.At+r.Len {
				wire = r.Label
			}
		}
		own, other := middle(parted[b.Label])
		coated := math.Hypot(own-u, other-v) < 0.5*math.Hypot(u, v) // nearer to the coat than to grey
		if coated && beside[b.Label] && float64(b.Area) > sq(radius) && reach[wire] > far+on*s.radius && (most == nil || b.Area > most.Area) {
			most = &parts[k]
		}
	}
	return most, nil
}
