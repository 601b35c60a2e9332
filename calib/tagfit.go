package calib

import (
	"image"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"jigloupe/calib/cv"
)

// homography is a projective map of the plane, row by row, its last number 1.
type homography [9]float64

func (h *homography) apply(x, y float64) (u, v float64) {
	w := h[6]*x + h[7]*y + h[8]
	return (h[0]*x + h[1]*y + h[2]) / w, (h[3]*x + h[4]*y + h[5]) / w
}

func (h *homography) inverse() (homography, bool) {
	var inv mat.Dense
	if inv.Inverse(mat.NewDense(3, 3, slices.Clone(h[:]))) != nil || inv.At(2, 2) == 0 {
		return homography{}, false
	}
	var out homography
	for i := range out {
		out[i] = inv.At(i/3, i%3) / inv.At(2, 2)
	}
	return out, true
}

// throughFour maps four places to four others.
func throughFour(from, to [4][2]float64) (homography, bool) {
	var f lines
	for k := range from {
		f.add(from[k], to[k][0], 0)
		f.add(from[k], to[k][1], 1)
	}
	h, _, ok := f.solve()
	return h, ok
}

// lines are equations for a homography: each says that a place lands on a line
// of constant u (axis 0) or v (axis 1). They are linear in its first eight
// numbers.
type lines struct {
	a [][8]float64
	b []float64
}

func (l *lines) add(p [2]float64, value float64, axis int) {
	var row [8]float64
	copy(row[3*axis:], []float64{p[0], p[1], 1})
	row[6], row[7] = -value*p[0], -value*p[1]
	l.a, l.b = append(l.a, row), append(l.b, value)
}

// solve returns the least-squares solution and its covariance.
func (l *lines) solve() (h homography, spread [8][8]float64, ok bool) {
	n := len(l.a)
	if n < 8 {
		return h, spread, false
	}
	a := mat.NewDense(n, 8, nil)
	for i := range l.a {
		a.SetRow(i, l.a[i][:])
	}
	var qr mat.QR
	qr.Factorize(a)
	x := mat.NewVecDense(8, nil)
	if qr.SolveVecTo(x, false, mat.NewVecDense(n, l.b)) != nil {
		return h, spread, false
	}
	for i := range 8 {
		h[i] = x.AtVec(i)
	}
	h[8] = 1
	if n == 8 {
		return h, spread, true
	}
	var fitted, normal mat.Dense
	fitted.Mul(a, x)
	ss := 0.0
	for i := range n {
		d := fitted.At(i, 0) - l.b[i]
		ss += d * d
	}
	normal.Mul(a.T(), a)
	var inv mat.Dense
	if inv.Inverse(&normal) != nil {
		return h, spread, false
	}
	for i := range 8 {
		for j := range 8 {
			spread[i][j] = inv.At(i, j) * ss / float64(n-8)
		}
	}
	return h, spread, true
}

// refine fits the map to all borders between dark and light modules, each where
// the level crosses the middle between the two. Borders more than three robust
// standard deviations off are left out.
func (g *greys) refine(fit homography, bits [][]bool) (homography, [8][8]float64, bool) {
	back, ok := fit.inverse()
	if !ok {
		return fit, [8][8]float64{}, false
	}
	var found []border
	n := len(bits)
	for j := range n {
		for i := range n {
			if i+1 < n && bits[j][i] != bits[j][i+1] {
				found = g.cross(found, back, float64(i)+0.5, float64(j)+0.5, 0)
			}
			if j+1 < n && bits[j][i] != bits[j+1][i] {
				found = g.cross(found, back, float64(i)+0.5, float64(j)+0.5, 1)
			}
		}
	}
	if len(found) < 40 {
		return fit, [8][8]float64{}, false
	}
	off := make([]float64, len(found))
	for k, b := range found {
		off[k] = math.Abs(b.off)
	}
	slices.Sort(off)
	limit := 3*off[len(off)/2]/0.6745 + 0.01
	var l lines
	for _, b := range found {
		if math.Abs(b.off) <= limit {
			l.add(b.at, b.value, b.axis)
		}
	}
	return l.solve()
}

// border is a place on the line between two modules.
type border struct {
	at    [2]float64 // px
	value float64    // of the line, in modules
	axis  int        // 0 for lines of constant u, 1 of constant v
	off   float64    // from where the map had it, in modules
}

// cross finds the border between the module with the given middle and the next
// one along the axis.
func (g *greys) cross(found []border, back homography, u, v float64, axis int) []border {
	at := func(d float64) (x, y float64) {
		if axis == 0 {
			return back.apply(u+d, v)
		}
		return back.apply(u, v+d)
	}
	level := func(d float64) float64 { return g.at(at(d)) }
	middle := (level(0) + level(1)) / 2
	rising := level(1) > level(0)
	const steps = 10
	for k := range steps {
		d := float64(k) / steps
		a, b := level(d), level(d+1.0/steps)
		if (a < middle) == rising && (b >= middle) == rising && a != b {
			d += (middle - a) / (b - a) / steps
			x, y := at(d)
			value := u + 0.5
			if axis == 1 {
				value = v + 0.5
			}
			return append(found, border{[2]float64{x, y}, value, axis, d - 0.5})
		}
	}
	return found
}

// toPhoto brings a tag found in a part of the photo, reduced by step, to photo px.
func (t *Tag) toPhoto(left, top, step float64) {
	part := homography{1 / step, 0, -left / step, 0, 1 / step, -top / step, 0, 0, 1}
	whole := func(h homography) homography {
		var m mat.Dense
		m.Mul(mat.NewDense(3, 3, slices.Clone(h[:])), mat.NewDense(3, 3, slices.Clone(part[:])))
		var out homography
		for i := range out {
			out[i] = m.At(i/3, i%3) / m.At(2, 2)
		}
		return out
	}
	old := t.fit
	t.fit = whole(old)
	var turn [8][8]float64 // how the eight numbers follow those before
	for j := range 8 {
		moved := old
		d := 1e-6 * max(1e-3, math.Abs(old[j]))
		moved[j] += d
		moved = whole(moved)
		for i := range 8 {
			turn[i][j] = (moved[i] - t.fit[i]) / d
		}
	}
	t.spread = sandwich(turn, t.spread)
	back, _ := t.fit.inverse()
	n := float64(t.modules)
	for k, c := range [4][2]float64{{0, 0}, {n, 0}, {n, n}, {0, n}} {
		t.Corners[k][0], t.Corners[k][1] = back.apply(c[0], c[1])
	}
}

// sandwich is a·s·aᵀ.
func sandwich(a, s [8][8]float64) (out [8][8]float64) {
	for i := range 8 {
		for j := range 8 {
			for k := range 8 {
				for l := range 8 {
					out[i][j] += a[i][k] * s[k][l] * a[j][l]
				}
			}
		}
	}
	return out
}

// Size is how a tag lies in the photo.
type Size struct {
	SidePx   float64 // a side of the code at its middle, in the direction that the tilt does not shorten
	U        float64 // standard uncertainty of SidePx, px
	TiltDeg  float64 // between the tag and the plane square to the line of sight
	TiltUDeg float64 // standard uncertainty of TiltDeg
}

// Size measures the tag. A tilt shortens what lies across its axis by its
// cosine and leaves what lies along it; the cosine says little about small
// tilts, so their uncertainty is large.
func (t *Tag) Size() Size {
	long, ratio := t.stretch(t.fit)
	var dLong, dRatio [8]float64
	for k := range 8 {
		moved := t.fit
		d := math.Sqrt(t.spread[k][k]) * 0.01
		if d == 0 {
			continue
		}
		moved[k] += d
		l, r := t.stretch(moved)
		dLong[k], dRatio[k] = (l-long)/d, (r-ratio)/d
	}
	var varLong, varRatio float64
	for i := range 8 {
		for j := range 8 {
			varLong += dLong[i] * t.spread[i][j] * dLong[j]
			varRatio += dRatio[i] * t.spread[i][j] * dRatio[j]
		}
	}
	uRatio := math.Hypot(math.Sqrt(varRatio), tagRatioFloor)
	tilt := math.Acos(min(1, ratio))
	n := float64(t.modules)
	return Size{
		SidePx: n * long, U: n * math.Hypot(math.Sqrt(varLong), long*tagScaleFloor),
		TiltDeg:  tilt * 180 / math.Pi,
		TiltUDeg: min(uRatio/math.Sin(max(tilt, 1e-6)), math.Sqrt(2*uRatio)) * 180 / math.Pi,
	}
}

// What the fit's own spread does not show, as a share, by our own judgement: a
// lens is not quite straight, and a printer feeds paper a little longer or shorter
// than it is wide. On drawn photos a third of it is enough (TestTagScale).
const (
	tagScaleFloor = 0.001
	tagRatioFloor = 0.0015
)

// stretch is the number of photo px per module at the middle of the code, in
// the direction where it is largest, and the smallest over the largest.
func (t *Tag) stretch(fit homography) (long, ratio float64) {
	back, ok := fit.inverse()
	if !ok {
		return 0, 1
	}
	m, d := float64(t.modules)/2, 0.01
	x0, y0 := back.apply(m-d, m)
	x1, y1 := back.apply(m+d, m)
	x2, y2 := back.apply(m, m-d)
	x3, y3 := back.apply(m, m+d)
	a, b, c, e := (x1-x0)/(2*d), (x3-x2)/(2*d), (y1-y0)/(2*d), (y3-y2)/(2*d)
	sum, det := a*a+b*b+c*c+e*e, a*e-b*c
	root := math.Sqrt(max(0, sum*sum-4*det*det))
	long = math.Sqrt((sum + root) / 2)
	return long, math.Abs(det) / (long * long)
}

// coverSheet marks what the sheet of a tag hides: the code with its white
// border, and all that is as bright around it unless that is much more than a
// tag, such as a white table.
func (t *Tag) coverSheet(reduced *Linear, labels []int32, sheet cv.Blob) {
	t.step, t.wide = reduced.Step, reduced.Width
	const quiet = 4.5 // modules: the border that the standard asks for, and half of one
	on := make([]bool, len(labels))
	code := 0
	n := float64(t.modules)
	for i := range on {
		u, v := t.fit.apply((float64(i%t.wide)+0.5)*float64(t.step), (float64(i/t.wide)+0.5)*float64(t.step))
		if u > -quiet && v > -quiet && u < n+quiet && v < n+quiet {
			on[i] = true
			code++
		}
	}
	if sheet.Area < 3*code {
		for i, l := range labels {
			on[i] = on[i] || l == sheet.Label
		}
	}
	const reach = 3 // reduced px: the edge of the paper and what blur makes of it
	t.cover = make([]bool, len(on))
	frame := image.Rect(0, 0, reduced.Width, reduced.Height)
	for i, in := range on {
		if !in {
			continue
		}
		at := image.Pt(i%t.wide, i/t.wide)
		r := image.Rectangle{at, at.Add(image.Pt(1, 1))}.Inset(-reach).Intersect(frame)
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				t.cover[y*t.wide+x] = true
			}
		}
	}
}
