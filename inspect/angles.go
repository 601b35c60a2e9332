package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// unseenAngle marks pixels that are no part of the head in a plane of viewing
// angles.
const unseenAngle = float32(-1)

// axis is a line through the head in patch pixels, along which a part of it is
// a body of revolution.
type axis struct {
	x, y   float64 // a point on it
	dx, dy float64 // unit vector towards the collar
}

// along and across are the coordinates of a pixel on the axis and off it.
func (a axis) along(x, y float64) float64  { return (x-a.x)*a.dx + (y-a.y)*a.dy }
func (a axis) across(x, y float64) float64 { return (y-a.y)*a.dx - (x-a.x)*a.dy }

// viewingAngles gives, for each pixel of the head, the angle in degrees between
// the surface normal and the line of sight.
//
// A cast head is close to a body of revolution lying with its axis across the
// line of sight, so its outline gives the radius r at each place along the
// axis, and with y the distance from the axis the normal is
// (−(r²)′/2, y, √(r²−y²)), up to its length. Body and collar each have an axis
// of their own. Assumes a camera far away compared with the head's size; where
// the head is flattened or lies askew the angle is wrong by as much as the
// shape is, which the outline cannot tell. It fills in l.angles, l.axis, l.collar
// and l.root.
func (l *look) viewingAngles() (err error) {
	s := l.shape
	l.angles = cv.NewPlane(s.w, s.h)
	for i := range l.angles.Pix {
		l.angles.Pix[i] = unseenAngle
	}
	var body *image.Gray
	if body, l.collar, l.root, err = splitCollar(s); err != nil {
		return err
	}
	l.axis = mainAxis(body, l.root)
	revolve(body, l.axis, s.radius, l.angles)
	if l.collar != nil {
		a := axis{x: float64(s.centre.X), y: float64(s.centre.Y)}
		cx, cy, _ := centroid(l.collar)
		a.dx, a.dy = unit(cx-a.x, cy-a.y)
		revolve(l.collar, a, s.radius, l.angles)
	}
	return nil
}

// splitCollar cuts the head where it narrows towards the place the hook leaves
// it. Root is that place, or the centroid of the head when no wire is seen;
// collar is nil when there is none.
func splitCollar(s *shape) (body, collar *image.Gray, root [2]float64, err error) {
	c := [2]float64{float64(s.centre.X), float64(s.centre.Y)}
	if root, err = hookRoot(s); err != nil {
		return
	}
	dx, dy := unit(root[0]-c[0], root[1]-c[1])
	a := axis{c[0], c[1], dx, dy}
	half := halfWidths(s.head, a)
	reach := int(a.along(root[0], root[1]))
	cut := -1
	for k := int(0.4 * s.radius); k < reach-int(0.15*s.radius); k++ {
		if w, ok := half[k]; ok && w < 0.62*s.radius {
			cut = k
			break
		}
	}
	if cut < 0 {
		return s.head, nil, root, nil
	}
	body, collar = image.NewGray(s.head.Rect), image.NewGray(s.head.Rect)
	for i, v := range s.head.Pix {
		if v == 0 {
			continue
		}
		x, y := float64(i%s.w), float64(i/s.w)
		if a.along(x, y) > float64(cut) && math.Abs(a.across(x, y)) < 0.9*s.radius {
			collar.Pix[i] = 255
		} else {
			body.Pix[i] = 255
		}
	}
	return body, collar, root, nil
}

// hookRoot is where the longest wire leaves the head: the hook reaches farther
// than the eye.
func hookRoot(s *shape) ([2]float64, error) {
	labels, blobs, err := cv.Blobs(s.wire)
	if err != nil {
		return [2]float64{}, err
	}
	contacts := make([][]image.Point, len(blobs)+1)
	reach := make([]float64, len(blobs)+1)
	for y := 1; y < s.h-1; y++ {
		for x := 1; x < s.w-1; x++ {
			i := y*s.w + x
			if l := labels[i]; l > 0 {
				reach[l] = max(reach[l], math.Hypot(float64(x-s.centre.X), float64(y-s.centre.Y)))
				if s.head.Pix[i-1]|s.head.Pix[i+1]|s.head.Pix[i-s.w]|s.head.Pix[i+s.w] != 0 {
					contacts[l] = append(contacts[l], image.Pt(x, y))
				}
			}
		}
	}
	best := 0
	for l, c := range contacts {
		if float64(len(c)) > s.gauge && (best == 0 || reach[l] > reach[best]) {
			best = l
		}
	}
	if best == 0 {
		x, y, _ := centroid(s.head)
		return [2]float64{x, y}, nil
	}
	var x, y float64
	from := contacts[best]
	if ends := s.ends(from); 2*len(ends) < len(from) && len(ends) > 0 { // most of it lies elsewhere: a shadow
		from = ends
	}
	for _, p := range from {
		x, y = x+float64(p.X), y+float64(p.Y)
	}
	n := float64(len(from))
	return [2]float64{x / n, y / n}, nil
}

// ends are those of the points along the outline that lie at an end of the
// head: well outside its largest circle, on an outline that faces away from its
// middle. A shadow taken for wire lies along its sides too.
func (s *shape) ends(points []image.Point) (out []image.Point) {
	const beyond, facing = 1.15, 0.8 // radii; cosine
	near := int(0.2*s.radius) + 1
	for _, p := range points {
		dx, dy := float64(p.X-s.centre.X), float64(p.Y-s.centre.Y)
		away := math.Hypot(dx, dy)
		if away < beyond*s.radius {
			continue
		}
		var mx, my, n float64
		for v := max(p.Y-near, 0); v <= min(p.Y+near, s.h-1); v++ {
			for u := max(p.X-near, 0); u <= min(p.X+near, s.w-1); u++ {
				if s.head.Pix[v*s.w+u] != 0 {
					mx, my, n = mx+float64(p.X-u), my+float64(p.Y-v), n+1
				}
			}
		}
		if n > 0 && mx*dx+my*dy > facing*away*math.Hypot(mx, my) {
			out = append(out, p)
		}
	}
	return out
}

// mainAxis is the long axis of the body, towards the root of the hook; for a
// body as wide as long, the line to the root.
func mainAxis(body *image.Gray, root [2]float64) axis {
	x, y, n := centroid(body)
	var xx, xy, yy float64
	for i, v := range body.Pix {
		if v != 0 {
			dx, dy := float64(i%body.Stride)-x, float64(i/body.Stride)-y
			xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
		}
	}
	a := axis{x: x, y: y}
	angle := math.Atan2(2*xy, xx-yy) / 2
	a.dx, a.dy = math.Cos(angle), math.Sin(angle)
	mean, diff := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	if long := math.Sqrt((mean + diff) / max(mean-diff, 1)); long < 1.1 || n == 0 {
		a.dx, a.dy = unit(root[0]-x, root[1]-y)
	}
	if a.dx*(root[0]-x)+a.dy*(root[1]-y) < 0 {
		a.dx, a.dy = -a.dx, -a.dy
	}
	return a
}

// revolve fills the viewing angles of one part of the head.
func revolve(part *image.Gray, a axis, radius float64, angles cv.Plane) {
	lo, hi := extents(part, a)
	if len(lo) == 0 {
		return
	}
	kMin, kMax := math.MaxInt, math.MinInt
	for k := range lo {
		kMin, kMax = min(kMin, k), max(kMax, k)
	}
	n := kMax - kMin + 1
	mid, sq := make([]float64, n), make([]float64, n)
	for j := range n {
		l, ok := lo[kMin+j]
		if !ok {
			if j > 0 {
				mid[j], sq[j] = mid[j-1], sq[j-1]
			}
			continue
		}
		h := hi[kMin+j]
		mid[j], sq[j] = (l+h)/2, (h-l)*(h-l)/4
	}
	smoothing := 0.04 * radius
	mid, sq = smooth1(mid, 2*smoothing), smooth1(sq, smoothing)
	for i, v := range part.Pix {
		if v == 0 {
			continue
		}
		x, y := float64(i%part.Stride), float64(i/part.Stride)
		j := min(max(int(math.Round(a.along(x, y)))-kMin, 0), n-1)
		slope := (sq[min(j+1, n-1)] - sq[max(j-1, 0)]) / float64(max(min(j+1, n-1)-max(j-1, 0), 1)) / 2
		t := a.across(x, y) - mid[j]
		r2 := max(sq[j], 1)
		z := math.Sqrt(max(r2-t*t, 0))
		angles.Pix[i] = float32(math.Acos(min(1, z/math.Sqrt(slope*slope+r2))) * 180 / math.Pi)
	}
}

// extents are the least and greatest distance across the axis of a mask at
// each whole step along it.
func extents(part *image.Gray, a axis) (lo, hi map[int]float64) {
	reach := part.Stride + len(part.Pix)/part.Stride + int(math.Hypot(a.x, a.y)) // no step lies farther off
	ends := make([][2]float64, 2*reach+1)
	for k := range ends {
		ends[k] = [2]float64{math.Inf(1), math.Inf(-1)}
	}
	for i, v := range part.Pix {
		if v == 0 {
			continue
		}
		x, y := float64(i%part.Stride), float64(i/part.Stride)
		t := a.across(x, y)
		e := &ends[int(math.Round(a.along(x, y)))+reach]
		e[0], e[1] = min(e[0], t), max(e[1], t)
	}
	lo, hi = map[int]float64{}, map[int]float64{}
	for k, e := range ends {
		if e[0] <= e[1] {
			lo[k-reach], hi[k-reach] = e[0], e[1]
		}
	}
	return lo, hi
}

// halfWidths is half the extent across the axis at each whole step along it.
func halfWidths(part *image.Gray, a axis) map[int]float64 {
	lo, hi := extents(part, a)
	for k := range lo {
		lo[k] = (hi[k] - lo[k]) / 2
	}
	return lo
}

// smooth1 is a running Gaussian mean, the ends carried on.
func smooth1(v []float64, sigma float64) []float64 {
	reach := int(3*sigma) + 1
	out := make([]float64, len(v))
	for i := range v {
		var s, w float64
		for d := -reach; d <= reach; d++ {
			g := math.Exp(-float64(d*d) / (2 * sigma * sigma))
			s += g * v[min(max(i+d, 0), len(v)-1)]
			w += g
		}
		out[i] = s / w
	}
	return out
}

func centroid(m *image.Gray) (x, y float64, n int) {
	for i, v := range m.Pix {
		if v != 0 {
			x += float64(i % m.Stride)
			y += float64(i / m.Stride)
			n++
		}
	}
	return x / float64(max(n, 1)), y / float64(max(n, 1)), n
}

func unit(dx, dy float64) (float64, float64) {
	if d := math.Hypot(dx, dy); d > 0 {
		return dx / d, dy / d
	}
	return 1, 0
}
