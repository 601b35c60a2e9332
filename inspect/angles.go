package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// unseenAngle marks pixels that are no part of the head in a plane of viewing
// angles.
const unseenAngle = float32(-1)

// How far along the axis the outline says something of a place, in radii of the
// head: the body's, which is smooth, and the collar's, with its lips.
const bodyReach, collarReach = 0.7, 0.15

// axis is a line through the head in patch pixels, along which a part of it is
// a body of revolution.
type axis struct {
	x, y   float64 // a point on it
	dx, dy float64 // unit vector towards the collar
}

// along and across are the coordinates of a pixel on the axis and off it.
func (a axis) along(x, y float64) float64  { return (x-a.x)*a.dx + (y-a.y)*a.dy }
func (a axis) across(x, y float64) float64 { return (y-a.y)*a.dx - (x-a.x)*a.dy }

// mirror is the pixel as far on the other side of the line mid px off the axis.
func (a axis) mirror(x, y, mid float64) image.Point {
	over := 2 * (a.across(x, y) - mid)
	return image.Pt(int(math.Round(x+over*a.dy)), int(math.Round(y-over*a.dx)))
}

// viewingAngles gives, for each pixel of the head, the angle in degrees between
// the surface normal and the line of sight.
//
// A cast head is close to a body of revolution lying with its axis across the
// line of sight, so its outline gives the radius r at each place along the
// axis (see contour), and with y the distance from the axis the normal is
// (−(r²)′/2, y, √(r²−y²)), up to its length. Body and collar each have an axis
// of their own. Assumes a camera far away compared with the head's size; where
// the head is flattened or lies askew the angle is wrong by as much as the shape
// is; some of that the outline tells, see contour, and some the tones, see look.flatten.
// It fills in l.angles, l.axis, l.collar, l.root and l.contour.
func (l *look) viewingAngles() (err error) {
	var body *image.Gray
	if body, l.collar, l.root, err = splitCollar(l.shape); err != nil {
		return err
	}
	l.revolve(body)
	return nil
}

// revolve is viewingAngles with body and collar known.
func (l *look) revolve(body *image.Gray) {
	s := l.shape
	l.angles = cv.NewPlane(s.w, s.h)
	for i := range l.angles.Pix {
		l.angles.Pix[i] = unseenAngle
	}
	c := l.contour
	l.axis, l.contour = mainAxis(body, l.root, bodyReach*s.radius)
	if c.flat() {
		l.contour.rounded = c.rounded
	}
	l.contour.revolve(body, l.axis, l.angles)
	if l.collar != nil {
		a := axis{x: float64(s.centre.X), y: float64(s.centre.Y)}
		cx, cy, _ := centroid(l.collar)
		a.dx, a.dy = unit(cx-a.x, cy-a.y)
		contourOf(l.collar, a, collarReach*s.radius).revolve(l.collar, a, l.angles)
	}
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
	runs, blobs, err := cv.Runs(s.wire)
	if err != nil {
		return [2]float64{}, err
	}
	contacts := make([][]image.Point, len(blobs)+1)
	reach := make([]float64, len(blobs)+1)
	for _, r := range runs {
		l, y := r.Label, int(r.At)/s.w
		if y == 0 || y == s.h-1 {
			continue
		}
		for i := int(r.At); i < int(r.At+r.Len); i++ {
			x := i - y*s.w
			if x == 0 || x == s.w-1 {
				continue
			}
			reach[l] = max(reach[l], math.Hypot(float64(x-s.centre.X), float64(y-s.centre.Y)))
			if s.head.Pix[i-1]|s.head.Pix[i+1]|s.head.Pix[i-s.w]|s.head.Pix[i+s.w] != 0 {
				contacts[l] = append(contacts[l], image.Pt(x, y))
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
		from = s.oneWay(ends)
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

// oneWay are those of the points that lie one way from the head's middle, as many as there
// are any way: a shadow may join the hook to other ends, and between two there is none.
func (s *shape) oneWay(points []image.Point) (most []image.Point) {
	const aside = 0.35 // radians: a collar of usual width and length reaches so far to both sides
	for _, p := range points {
		var near []image.Point
		px, py := float64(p.X-s.centre.X), float64(p.Y-s.centre.Y)
		for _, q := range points {
			qx, qy := float64(q.X-s.centre.X), float64(q.Y-s.centre.Y)
			if math.Abs(math.Atan2(px*qy-py*qx, px*qx+py*qy)) < aside {
				near = append(near, q)
			}
		}
		if len(near) > len(most) {
			most = near
		}
	}
	return most
}

// mainAxis is the long axis of the body, towards the root of the hook, and the
// contour along it. A body as wide as long is taken along the line to the root; so
// is one whose sides are more alike along that line: a ball without its collar is
// longer across, and longer still where an eye before it was taken for head. The hook lies
// along most heads, so an axis across it must be much the better one, unless the body is so
// long that it holds its collar: then a shadow was taken for the hook.
func mainAxis(body *image.Gray, root [2]float64, reach float64) (axis, contour) {
	x, y, n := centroid(body)
	var xx, xy, yy float64
	for i, v := range body.Pix {
		if v != 0 {
			dx, dy := float64(i%body.Stride)-x, float64(i/body.Stride)-y
			xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
		}
	}
	toRoot := axis{x: x, y: y}
	toRoot.dx, toRoot.dy = unit(root[0]-x, root[1]-y)
	byRoot := contourOf(body, toRoot, reach)
	mean, diff := (xx+yy)/2, math.Hypot((xx-yy)/2, xy)
	long := math.Sqrt((mean + diff) / max(mean-diff, 1))
	if long < 1.1 || n == 0 {
		return toRoot, byRoot
	}
	a := axis{x: x, y: y}
	a.dy, a.dx = math.Sincos(math.Atan2(2*xy, xx-yy) / 2)
	if a.dx*(root[0]-x)+a.dy*(root[1]-y) < 0 {
		a.dx, a.dy = -a.dx, -a.dy
	}
	worse := 2.0
	if long < cutBall && a.dx*toRoot.dx+a.dy*toRoot.dy < math.Sqrt2/2 {
		worse = 0.5
	}
	if c := contourOf(body, a, reach); c.unevenDeg < worse*byRoot.unevenDeg {
		return a, c
	}
	return toRoot, byRoot
}

// cutBall is how many times as long across the hook a ball without its collar may seem: of
// 34 on drawn photos 1.17 and less.
const cutBall = 1.2

// revolve fills the viewing angles of a part of the head from its contour.
func (c contour) revolve(part *image.Gray, a axis, angles cv.Plane) {
	for i, v := range part.Pix {
		if v == 0 {
			continue
		}
		x, y := float64(i%part.Stride), float64(i/part.Stride)
		angles.Pix[i] = float32(math.Acos(min(1, c.normal(a.along(x, y), a.across(x, y)).z)) * 180 / math.Pi)
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
