package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// The widest bare band between a head and what it cuts off, and how far the hook goes
// on from there, radii.
const bareBand, hookOn = 0.6, 0.7

// partApart is the largest part of what is taken for wire, near the head, that has
// more room in it than wire has, more of the coat's hue than metal, and from which
// the hook goes on: a collar that a bare band which looks like card cuts off. An
// eye is where wire ends. Nil when there is none.
func (s *shape) partApart(t *tones) (*cv.Blob, error) {
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
	fromHead, err := cv.Near(inverse(s.head), bareBand*s.radius+radius+1)
	if err != nil {
		return nil, err
	}
	beside := make([]bool, len(parts)+1)
	for _, r := range thick {
		for _, d := range fromHead.Pix[r.At:][:r.Len] {
			beside[r.Label] = beside[r.Label] || float64(d) < bareBand*s.radius+radius
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
		if coated && beside[b.Label] && float64(b.Area) > sq(radius) && reach[wire] > far+hookOn*s.radius && (most == nil || b.Area > most.Area) {
			most = &parts[k]
		}
	}
	return most, nil
}

// away is how far a pixel lies from the middle of the head's largest circle, px.
func (s *shape) away(i int) float64 {
	return math.Hypot(float64(i%s.w-s.centre.X), float64(i/s.w-s.centre.Y))
}

// rejoin gives back to the head what a bare band cuts off from its collar and the disc
// that tells head from wire is too wide for: a lip. It is there where something that is
// taken for wire and from which the hook goes on has the coat's hue, over a way across
// the hook of more than two wires, and of twice its own length along it: gilt hooks and
// the light that a coat throws on the card are long, eyes are round.
func (s *shape) rejoin(t *tones) error {
	const wide = 4    // gauges
	const grey = 0.15 // a hue, as a log ratio, too small to be told from metal's pixel by pixel
	var hues [2][]float32
	for i, v := range s.head.Pix {
		if v != 0 {
			a, b := t.hue(i)
			hues[0], hues[1] = append(hues[0], a), append(hues[1], b)
		}
	}
	if len(hues[0]) == 0 {
		return nil
	}
	u, v := nth(hues[0], len(hues[0])/2), nth(hues[1], len(hues[1])/2)
	long := float32(math.Hypot(float64(u), float64(v)))
	if long < grey {
		return nil
	}
	wires, parts, err := cv.Blobs(s.wire)
	if err != nil {
		return err
	}
	reach := make([]float64, len(parts)+1)
	coated := image.NewGray(s.wire.Rect)
	for i, l := range wires {
		if l == 0 {
			continue
		}
		reach[l] = max(reach[l], s.away(i))
		if a, b := t.hue(i); a*u+b*v > long*long/2 {
			coated.Pix[i] = 255
		}
	}
	labels, lips, err := cv.Blobs(coated)
	if err != nil {
		return err
	}
	fromHead, err := cv.Near(inverse(s.head), bareBand*s.radius+1)
	if err != nil {
		return err
	}
	for _, lip := range lips {
		if float64(lip.Area) < sq(s.gauge) {
			continue
		}
		x, y := lip.X-float64(s.centre.X), lip.Y-float64(s.centre.Y)
		far := math.Hypot(x, y)
		frame := func(i int) (along, across float64) {
			dx, dy := float64(i%s.w-s.centre.X), float64(i/s.w-s.centre.Y)
			return (dx*x + dy*y) / far, (dy*x - dx*y) / far
		}
		near, start, end, left, right, goesOn := math.Inf(1), math.Inf(1), 0.0, math.Inf(1), math.Inf(-1), false
		for i, l := range labels {
			if l == lip.Label {
				along, across := frame(i)
				near, start, end = min(near, float64(fromHead.Pix[i])), min(start, along), max(end, along)
				left, right = min(left, across), max(right, across)
				goesOn = goesOn || reach[wires[i]] > far+hookOn*s.radius
			}
		}
		if right-left < max(wide*s.gauge, 2*(end-start)) || near >= bareBand*s.radius || !goesOn {
			continue
		}
		for i, v := range s.wire.Pix {
			if along, across := frame(i); v != 0 && along > 0 && along <= end && across >= left && across <= right {
				s.head.Pix[i], s.wire.Pix[i] = 255, 0
			}
		}
	}
	s.head, err = fillHoles(s.head)
	return err
}
