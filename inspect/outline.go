package inspect

import (
	"image"
	"math"
	"slices"

	"jigloupe/calib/cv"
)

// rimPoint is a place on the outline of a head's body, in mm from the middle of
// its largest circle.
type rimPoint struct {
	x, y    float64
	trusted bool
	faint   bool // not trusted only because hardly an edge is to be seen
}

const (
	// rimStepMM parts the places along an outline: about five on the shortest
	// bulge believed.
	rimStepMM = 0.2
	// bulgeMM is the shortest bulge that is believed: half of it is what the
	// running median keeps. Paint that ran is at least as wide as it is thick a
	// few times over; common practice, no source.
	bulgeMM = 1.0
	// believedMM is the least height of a lump or a bulge that is called a fault:
	// twice the film that a good dip leaves (60 to 80 µm; common practice, no source).
	believedMM = 0.15
)

// rim follows the outline of the body and says where it can be trusted: away
// from the collar and wherever wire touches the head, and where something like
// an edge is to be seen, since the fringe of a shadow is none.
func (f *film) rim() ([]rimPoint, error) {
	s := f.look.shape
	line, err := cv.Outline(s.head)
	if err != nil || len(line) < 40 {
		return nil, err
	}
	collar, root := f.look.collar, f.look.root
	f.root = rimPoint{x: (root[0] - float64(s.centre.X)) * f.mm, y: (root[1] - float64(s.centre.Y)) * f.mm}
	// the foot of the eye and the throat of the collar are wider than wire and
	// collar by these; common practice, no source
	const foot, throat = 0.8, 0.5 // mm
	const gap = 0.2               // mm of ground between wire and head that a shadow or blur may hide
	toWire, err := f.distanceToWire(s.gauge + foot/f.mm)
	if err != nil {
		return nil, err
	}
	toCollar := cv.Plane{}
	if collar != nil {
		if toCollar, err = distanceTo(collar, throat/f.mm); err != nil {
			return nil, err
		}
	}
	xs, ys := make([]float64, len(line)), make([]float64, len(line))
	for k, p := range line {
		xs[k], ys[k] = float64(p.X), float64(p.Y)
	}
	// half a step of smoothing takes the staircase of pixels away
	smoothing := 0.5 * rimStepMM / f.mm
	xs, ys = smoothClosed(xs, smoothing), smoothClosed(ys, smoothing)
	var feet []int // places on the line that wire touches; where it only passes by the outline is seen
	for k, p := range line {
		if float64(toWire.Pix[p.Y*s.w+p.X]) <= s.gauge+gap/f.mm {
			feet = append(feet, k)
		}
	}
	byFoot := func(x, y float64) bool {
		return slices.ContainsFunc(feet, func(k int) bool { return math.Hypot(xs[k]-x, ys[k]-y)*f.mm <= foot })
	}
	var rim []rimPoint
	gone := math.Inf(1)
	for k := range xs {
		if k > 0 {
			gone += f.mm * math.Hypot(xs[k]-xs[k-1], ys[k]-ys[k-1])
		}
		if gone < rimStepMM {
			continue
		}
		gone = 0
		px, py := int(xs[k]+0.5), int(ys[k]+0.5)
		i := py*s.w + px
		q := rimPoint{x: (xs[k] - float64(s.centre.X)) * f.mm, y: (ys[k] - float64(s.centre.Y)) * f.mm}
		q.trusted = px > 3 && py > 3 && px < s.w-4 && py < s.h-4 &&
			(float64(toWire.Pix[i])*f.mm > s.gauge*f.mm+foot || !byFoot(xs[k], ys[k])) &&
			math.Hypot(xs[k]-root[0], ys[k]-root[1]) > 3*s.gauge &&
			(collar == nil || float64(toCollar.Pix[i])*f.mm > throat)
		q.faint = q.trusted && !f.look.edgeNear(px, py)
		q.trusted = q.trusted && !q.faint
		rim = append(rim, q)
	}
	return rim, nil
}

// distanceToWire is the distance in px of every pixel from the core of hook and
// eye, as far as reach.
func (f *film) distanceToWire(reach float64) (cv.Plane, error) {
	return distanceTo(f.look.wireCore, reach)
}

// coreOfWire is the middle of hook and eye. The fringe that opening leaves around a
// head is thinner than any wire; what a head's shadow leaves is wide, but has no
// edges.
func (l *look) coreOfWire() (*image.Gray, error) {
	s := l.shape
	thick, err := cv.Distance(s.wire)
	if err != nil {
		return nil, err
	}
	runs, blobs, err := cv.Runs(s.wire)
	if err != nil {
		return nil, err
	}
	const atEdge = 3 // px, of edgeNear
	toHead, err := distanceTo(s.head, 2*atEdge)
	if err != nil {
		return nil, err
	}
	near, all := make([]int, len(blobs)+1), make([]int, len(blobs)+1) // px at an edge, away from the head's own
	for _, r := range runs {
		for i := int(r.At); i < int(r.At+r.Len); i++ {
			x, y := i%s.w, i/s.w
			if toHead.Pix[i] <= 2*atEdge || x <= atEdge || y <= atEdge || x >= s.w-atEdge-1 || y >= s.h-atEdge-1 {
				continue
			}
			all[r.Label]++
			if l.edgeNear(x, y) {
				near[r.Label]++
			}
		}
	}
	core := image.NewGray(s.wire.Rect)
	for _, r := range runs {
		for i := int(r.At); i < int(r.At+r.Len); i++ {
			if float64(thick.Pix[i]) > wireCoreDepth*s.gauge && float64(near[r.Label]) >= wireEdge*float64(all[r.Label]) {
				core.Pix[i] = 255
			}
		}
	}
	return core, nil
}

// wireCoreDepth is how deep in a wire its core lies, in halves of its thickness.
const wireCoreDepth = 0.6

// wireEdge is the share of a wire's pixels that lie near an edge: a round wire has
// edges and streaks of light. In photos with known truth shadows have up to 0.05,
// wires 0.2 and more, wires with much shadow about them 0.08.
const wireEdge = 0.06

// edgeNear tells whether the outline stands on an edge: twice as steep as a
// shadow on card may be.
func (l *look) edgeNear(x, y int) bool {
	const reach, least = 3, 0.07
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			if l.edge.Pix[(y+dy)*l.shape.w+x+dx] > least {
				return true
			}
		}
	}
	return false
}

// distanceTo is the distance in px of every pixel from a mask, as far as reach.
func distanceTo(m *image.Gray, reach float64) (cv.Plane, error) {
	outside := image.NewGray(m.Rect)
	for i, v := range m.Pix {
		if v == 0 {
			outside.Pix[i] = 255
		}
	}
	return cv.Near(outside, reach+1)
}

// smoothClosed is a Gaussian mean along a closed line.
func smoothClosed(v []float64, sigma float64) []float64 {
	reach := int(3*sigma) + 1
	n := len(v)
	out := make([]float64, n)
	for i := range v {
		var s, w float64
		for d := -reach; d <= reach; d++ {
			g := math.Exp(-float64(d*d) / (2 * sigma * sigma))
			s += g * v[((i+d)%n+n)%n]
			w += g
		}
		out[i] = s / w
	}
	return out
}

// rimTolerance is how far in mm a place of a smooth outline may lie from its
// reference: a pixel of the segmentation, or a film's own unevenness.
func (f *film) rimTolerance() float64 { return max(0.05, 1.2*f.mm) }
