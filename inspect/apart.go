package inspect

import (
	"cmp"
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
	reach := s.reach(wires, blobs)
	parted := make([][2][]float32, len(parts)+1)
	for _, r := range thick {
		of := &parted[r.Label]
		for i := int(r.At); i < int(r.At+r.Len); i++ {
			if s.head.Pix[i] == 0 {
				u, v := t.hue(i)
				of[0], of[1] = append(of[0], u), append(of[1], v)
			}
		}
	}
	u, v := s.headHue(t)
	var most *cv.Blob
	for k, b := range parts {
		far := s.away(b.X, b.Y)
		wire := labelAt(wires, int32(int(b.Y+0.5)*s.w+int(b.X+0.5)))
		own, other := middleHue(parted[b.Label])
		coated := math.Hypot(own-u, other-v) < 0.5*math.Hypot(u, v) // nearer to the coat than to grey
		if coated && beside[b.Label] && float64(b.Area) > sq(radius) && reach[wire] > far+hookOn*s.radius && (most == nil || b.Area > most.Area) {
			most = &parts[k]
		}
	}
	return most, nil
}

// knowApart makes sure that what lies apart from the head is not its eye, which has the
// coat's hue where it is filled with paint, and may seem to go on where its shadow begins.
func (l *look) knowApart() (err error) {
	a := l.shape.apart
	if a == nil {
		return nil
	}
	if l.root, err = hookRoot(l.shape); err != nil {
		return err
	}
	n, err := newEyeLook(l, 0)
	if err != nil {
		return err
	}
	at := l.toPhoto(a.X, a.Y)
	if r, _ := n.findRing(); r != nil && r.outside(n.toPatch(image.Pt(int(at.X), int(at.Y)))) < 1 {
		l.shape.apart = nil
	}
	return nil
}

// away is how far a place lies from the middle of the head's largest circle, px.
func (s *shape) away(x, y float64) float64 {
	return math.Hypot(x-float64(s.centre.X), y-float64(s.centre.Y))
}

// reach is how far each part, by its label, goes away from the head's middle, px.
func (s *shape) reach(runs []cv.Run, parts []cv.Blob) []float64 {
	reach := make([]float64, len(parts)+1)
	for _, r := range runs { // its ends are farthest
		x, y := float64(int(r.At)%s.w), float64(int(r.At)/s.w)
		reach[r.Label] = max(reach[r.Label], s.away(x, y), s.away(x+float64(r.Len-1), y))
	}
	return reach
}

// labelAt is the label of the run that holds a pixel, 0 of none.
func labelAt(runs []cv.Run, pixel int32) int32 {
	k, _ := slices.BinarySearchFunc(runs, pixel, func(r cv.Run, p int32) int { return cmp.Compare(r.At+r.Len, p+1) })
	if k < len(runs) && runs[k].At <= pixel {
		return runs[k].Label
	}
	return 0
}

// headHue is the hue in the middle of the head's.
func (s *shape) headHue(t *tones) (u, v float64) {
	var hues [2][]float32
	for i, in := range s.head.Pix {
		if in != 0 {
			a, b := t.hue(i)
			hues[0], hues[1] = append(hues[0], a), append(hues[1], b)
		}
	}
	return middleHue(hues)
}

// coated tells of each pixel whether its hue is the coat's rather than metal's or, where the
// coat has none, whether it is nearer to it than to the wire in level.
func (s *shape) coated(t *tones) func(i int) bool {
	const (
		grey = 0.15 // a hue, as a log ratio, too small to be told from metal's pixel by pixel
		pale = 0.3  // a level, as a log ratio to the wire's, large enough to be told by
	)
	hu, hv := s.headHue(t)
	long := float32(math.Hypot(hu, hv))
	if long < grey {
		level := t.plane[1].Pix
		coat, wire := medianIn(level, s.head), medianIn(level, s.wire)
		return func(i int) bool { return coat-wire > pale && level[i] > (coat+wire)/2 }
	}
	return func(i int) bool {
		a, b := t.hue(i)
		return a*float32(hu)+b*float32(hv) > long*long/2
	}
}

// medianIn is the median of a plane in a mask; 0 in an empty one.
func medianIn(plane []float32, mask *image.Gray) float32 {
	var in []float32
	for i, v := range mask.Pix {
		if v != 0 {
			in = append(in, plane[i])
		}
	}
	if len(in) == 0 {
		return 0
	}
	return nth(in, len(in)/2)
}

func middleHue(hues [2][]float32) (u, v float64) {
	if len(hues[0]) == 0 {
		return 0, 0
	}
	return float64(nth(hues[0], len(hues[0])/2)), float64(nth(hues[1], len(hues[1])/2))
}

// rejoin gives back to the head what a bare band cuts off from its collar and the disc
// that tells head from wire is too wide for: a lip. It is there where something that is
// taken for wire and from which the hook goes on has the coat's hue, over a way across
// the hook of more than two wires, and of twice its own length along it: gilt hooks and
// the light that a coat throws on the card are long, eyes are round.
func (s *shape) rejoin(t *tones) error {
	const wide = 4 // gauges
	isCoated := s.coated(t)
	coated := image.NewGray(s.wire.Rect)
	for i, v := range s.wire.Pix {
		if v != 0 && isCoated(i) {
			coated.Pix[i] = 255
		}
	}
	runs, lips, err := cv.Runs(coated)
	small := func(lip cv.Blob) bool { return float64(lip.Area) < sq(s.gauge) }
	if lips = slices.DeleteFunc(lips, small); err != nil || len(lips) == 0 {
		return err
	}
	wires, parts, err := cv.Runs(s.wire)
	if err != nil {
		return err
	}
	reach := s.reach(wires, parts)
	fromHead, err := cv.Near(inverse(s.head), bareBand*s.radius+1)
	if err != nil {
		return err
	}
	joined := false
	for _, lip := range lips {
		x, y := lip.X-float64(s.centre.X), lip.Y-float64(s.centre.Y)
		far := math.Hypot(x, y)
		frame := func(i int) (along, across float64) {
			dx, dy := float64(i%s.w-s.centre.X), float64(i/s.w-s.centre.Y)
			return (dx*x + dy*y) / far, (dy*x - dx*y) / far
		}
		near, start, end, left, right, goesOn := math.Inf(1), math.Inf(1), 0.0, math.Inf(1), math.Inf(-1), false
		for _, r := range runs {
			if r.Label != lip.Label {
				continue
			}
			for i := int(r.At); i < int(r.At+r.Len); i++ {
				along, across := frame(i)
				near, start, end = min(near, float64(fromHead.Pix[i])), min(start, along), max(end, along)
				left, right = min(left, across), max(right, across)
			}
			goesOn = goesOn || reach[labelAt(wires, r.At)] > far+hookOn*s.radius
		}
		if right-left < max(wide*s.gauge, 2*(end-start)) || near >= bareBand*s.radius || !goesOn {
			continue
		}
		joined = true
		for i, v := range s.wire.Pix {
			if along, across := frame(i); v != 0 && along > 0 && along <= end && across >= left && across <= right {
				s.head.Pix[i], s.wire.Pix[i] = 255, 0
			}
		}
	}
	if joined {
		s.head, err = fillHoles(s.head)
	}
	return err
}
