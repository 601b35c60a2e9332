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
	_, collar, root, err := splitCollar(s)
	if err != nil {
		return nil, err
	}
	toWire, err := f.distanceToWire()
	if err != nil {
		return nil, err
	}
	toCollar := cv.Plane{}
	if collar != nil {
		if toCollar, err = distanceTo(collar); err != nil {
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
			float64(toWire.Pix[i]) > 1.6*s.gauge+0.4/f.mm &&
			math.Hypot(xs[k]-root[0], ys[k]-root[1]) > 3*s.gauge &&
			f.edgeNear(px, py)
		if collar != nil {
			q.trusted = q.trusted && float64(toCollar.Pix[i])*f.mm > 0.5 // the throat is wider than a sharp corner by this; common practice, no source
		}
		rim = append(rim, q)
	}
	return rim, nil
}

// distanceToWire is the distance in px of every pixel from the core of hook and
// eye. The fringe that opening leaves around a head is thinner than any wire.
func (f *film) distanceToWire() (cv.Plane, error) {
	s := f.look.shape
	thick, err := cv.Distance(s.wire)
	if err != nil {
		return cv.Plane{}, err
	}
	core := image.NewGray(s.wire.Rect)
	for i, d := range thick.Pix {
		if float64(d) > 0.6*s.gauge {
			core.Pix[i] = 255
		}
	}
	return distanceTo(core)
}

// edgeNear tells whether the outline stands on an edge: twice as steep as a
// shadow on card may be.
func (f *film) edgeNear(x, y int) bool {
	const reach, least = 3, 0.07
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			if f.look.edge.Pix[(y+dy)*f.look.shape.w+x+dx] > least {
				return true
			}
		}
	}
	return false
}

// distanceTo is the distance in px of every pixel from a mask.
func distanceTo(m *image.Gray) (cv.Plane, error) {
	outside := image.NewGray(m.Rect)
	for i, v := range m.Pix {
		if v == 0 {
			outside.Pix[i] = 255
		}
	}
	return cv.Distance(outside)
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

// reference finds the smooth outline that explains most of the rim: a circle
// when it can, else an egg or a drop, else the head's own mirror image. Nil when
// none does: then nothing is known of the outline from this photo alone.
func (f *film) reference(rim []rimPoint) *shapeFit {
	r := f.look.shape.radius * f.mm
	tol := f.rimTolerance()
	ax := f.look.axis
	long := axisReach(rim, ax)
	try := func(s smoothShape, starts ...[]float64) *shapeFit {
		var best *shapeFit
		for _, p := range starts {
			for part := range sectors + 1 {
				if fit := fitShape(s, p, withoutSector(rim, part), rim, tol); best == nil || fit.share-fit.inside > best.share-best.inside {
					best = &fit
				}
			}
		}
		return best
	}
	const most = 0.65 // a sag as wide as the head takes a third of the outline
	if c := try(circleShape, []float64{0, 0, r}); c.share >= most {
		return c
	}
	dir := math.Atan2(ax.dy, ax.dx)
	tipX, tipY := -ax.dx*long, -ax.dy*long
	best := try(eggShape, []float64{tipX / 2, tipY / 2, r + long/2, r, dir}, []float64{0, 0, r * 1.2, r, dir}, []float64{0, 0, r * 1.2, r, dir + math.Pi/2})
	if d := try(dropShape, []float64{0, 0, r, tipX, tipY, r / 3}); d.share > best.share {
		best = d
	}
	if best.share < most {
		best = try(mirrorOf(rim), []float64{0, dir})
	}
	if best.share < most {
		return nil
	}
	return best
}

// sectors are the parts of the outline that a fit starts without, one at a time,
// so that it need not start from a sag.
const sectors = 6

// withoutSector takes the trust from one sixth of the rim; from none for sector 0.
func withoutSector(rim []rimPoint, sector int) []rimPoint {
	out := slices.Clone(rim)
	for k := (sector - 1) * len(rim) / sectors; k >= 0 && k < sector*len(rim)/sectors; k++ {
		out[k].trusted = false
	}
	return out
}

// dropCollar takes the trust from what leaves the reference and does not come
// back before the hook: the collar, its throat, a wire along the head.
func (f *film) dropCollar(rim []rimPoint, away []float64) error {
	root, err := hookRoot(f.look.shape)
	if err != nil {
		return err
	}
	s := f.look.shape
	x, y := (root[0]-float64(s.centre.X))*f.mm, (root[1]-float64(s.centre.Y))*f.mm
	n, at := len(rim), 0
	for k, q := range rim {
		if sq(q.x-x)+sq(q.y-y) < sq(rim[at].x-x)+sq(rim[at].y-y) {
			at = k
		}
	}
	for _, dir := range [2]int{1, n - 1} {
		on := 0
		for k, steps := at, 0; on < 3 && steps < n; k, steps = (k+dir)%n, steps+1 {
			if rim[k].trusted && math.Abs(away[k]) < 2*f.rimTolerance() {
				on++
				continue
			}
			on = 0
			rim[k].trusted = false
		}
	}
	return nil
}

// rimTolerance is how far in mm a place of a smooth outline may lie from its
// reference: a pixel of the segmentation, or a film's own unevenness.
func (f *film) rimTolerance() float64 { return max(0.05, 1.2*f.mm) }

// axisReach is how far the tip lies beyond the largest circle's middle, less the
// radius of a blunt tip.
func axisReach(rim []rimPoint, a axis) float64 {
	far := 0.0
	for _, q := range rim {
		if q.trusted {
			far = max(far, -(q.x*a.dx + q.y*a.dy))
		}
	}
	return 0.8 * far
}

// mirrorOf is the rim's own mirror image about a line through the middle: its
// distance from there in mm and its direction.
func mirrorOf(rim []rimPoint) smoothShape {
	return smoothShape{"mirror image", func(p []float64, x, y float64) float64 {
		sin, cos := math.Sincos(p[1])
		t := y*cos - x*sin - p[0]
		return lineDistance(rim, x+2*t*sin, y-2*t*cos)
	}}
}

// lineDistance is the signed distance of a place from the closed line through
// the rim, + outside.
func lineDistance(rim []rimPoint, x, y float64) float64 {
	near, inside := math.Inf(1), false
	last := rim[len(rim)-1]
	for _, q := range rim {
		ex, ey := q.x-last.x, q.y-last.y
		wx, wy := x-last.x, y-last.y
		t := min(max((wx*ex+wy*ey)/max(ex*ex+ey*ey, 1e-12), 0), 1)
		near = min(near, sq(wx-t*ex)+sq(wy-t*ey))
		if (last.y <= y) != (q.y <= y) && x < last.x+ex*(y-last.y)/ey {
			inside = !inside
		}
		last = q
	}
	if inside {
		return -math.Sqrt(near)
	}
	return math.Sqrt(near)
}

// bulge is a place where the outline leaves its reference outwards.
type bulge struct {
	at     int // of the rim's places, where it is highest
	height float64
	length float64 // mm along the outline, at its foot
}

// sways smooths the distances along the rim so that nothing shorter than half a
// bulge is left, and gives the spread of what is no bulge, both in mm.
func sways(rim []rimPoint, away []float64) (smooth []float64, spread float64) {
	n := len(rim)
	half := int(math.Round(bulgeMM / rimStepMM / 2))
	smooth = make([]float64, n)
	var sizes []float64
	for k := range rim {
		var near []float64
		for d := -half; d <= half; d++ {
			if j := (k + d + n) % n; rim[j].trusted {
				near = append(near, away[j])
			}
		}
		if len(near) <= half {
			smooth[k] = math.NaN()
			continue
		}
		slices.Sort(near)
		smooth[k] = near[len(near)/2]
		if len(near)%2 == 0 {
			smooth[k] = (near[len(near)/2] + near[len(near)/2-1]) / 2
		}
		if rim[k].trusted {
			sizes = append(sizes, math.Abs(smooth[k]))
		} else {
			smooth[k] = math.NaN()
		}
	}
	if len(sizes) == 0 {
		return smooth, math.NaN()
	}
	slices.Sort(sizes)
	return smooth, sizes[len(sizes)/2] / 0.6745
}

// bulges are the stretches that rise to least mm or more, each with its foot at
// a quarter of its height.
func bulges(rim []rimPoint, smooth []float64, least float64) []bulge {
	n := len(rim)
	var found []bulge
	taken := make([]bool, n)
	for {
		b := bulge{at: -1, height: least}
		for k, h := range smooth {
			if !taken[k] && h >= b.height {
				b.at, b.height = k, h
			}
		}
		if b.at < 0 {
			return found
		}
		taken[b.at] = true
		for _, dir := range [2]int{1, n - 1} {
			for k := (b.at + dir) % n; !taken[k] && smooth[k] > b.height/4; k = (k + dir) % n {
				taken[k] = true
				b.length += rimStepMM
			}
		}
		if b.length >= bulgeMM {
			found = append(found, b)
		}
	}
}

// measureOutline compares the outline with a smooth one.
func (f *film) measureOutline(r *Relief) ([]ReliefFault, error) {
	rim, err := f.rim()
	if err != nil || len(rim) < 20 {
		return nil, err
	}
	ref := f.reference(rim)
	if ref == nil {
		return nil, nil
	}
	if err := f.dropCollar(rim, ref.away); err != nil {
		return nil, err
	}
	smooth, spread := sways(rim, ref.away)
	if math.IsNaN(spread) {
		return nil, nil
	}
	u := math.Hypot(spread, 0.5*f.mm)
	var faults []ReliefFault
	for _, b := range bulges(rim, smooth, max(believedMM, 4*u)) {
		at := f.photoPoint(rim[b.at])
		fault := ReliefFault{Kind: "sag", X: at.X, Y: at.Y, Place: "on the outline", Confidence: 1 - math.Exp(-b.height/(4*u))}
		f.size(&fault, b.length, b.height, u)
		faults = append(faults, fault)
	}
	if f.sized {
		f.fillOutline(r, rim, smooth, u)
	}
	return faults, nil
}

func (f *film) photoPoint(q rimPoint) Point {
	s := f.look.shape
	return f.look.toPhoto(float64(s.centre.X)+q.x/f.mm, float64(s.centre.Y)+q.y/f.mm)
}

// fillOutline records the deviation along the outline. A film can only add to a
// casting, so the largest is sought outwards; dents are the casting's.
func (f *film) fillOutline(r *Relief, rim []rimPoint, smooth []float64, u float64) {
	most := 0.0
	for k, h := range smooth {
		if math.IsNaN(h) {
			continue
		}
		most = max(most, h)
		p := f.photoPoint(rim[k])
		r.Deviation = append(r.Deviation, Sway{p.X, p.Y, h})
	}
	r.OutlineDeviationMM, r.U = &most, &u
}
