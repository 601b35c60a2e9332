package inspect

import (
	"image"
	"math"
	"slices"
)

// A contour is the outline of a body of revolution along its axis, one entry for
// each patch px from first on.
type contour struct {
	first     int
	mid       []float64 // of the outline, across the axis, px
	square    []float64 // of the radius, px²
	slope     []float64 // half of how fast the square grows along the axis, px
	top       float64   // the largest radius, px
	rounded   float64   // share of it over which the edge is rounded, 1 unless the head is flat, see contour.flatten
	unevenDeg float64   // root mean square over the surface of the angle between the two sides' slopes: about 0 of a body of revolution
}

// contourOf takes the contour of a part of the head, empty when that is.
//
// An outline is a px or two off here and there, where a lip, a lump or the wire
// sticks to it or the coat looks like the card, and normals come from its slope,
// which that disturbs most. The square of the radius goes as a quadratic along the
// axis of a ball, an egg and a cone alike, so quadratics are laid through what both
// sides of the outline say within reach px.
func contourOf(part *image.Gray, a axis, reach float64) (c contour) {
	lo, hi := extents(part, a)
	if len(lo) == 0 {
		return c
	}
	first, last := math.MaxInt, math.MinInt
	for k := range lo {
		first, last = min(first, k), max(last, k)
	}
	n := last - first + 1
	c.first, c.rounded = first, 1
	var at, mids []float64
	for k := range n {
		if l, ok := lo[first+k]; ok {
			at, mids = append(at, float64(k)), append(mids, (l+hi[first+k])/2)
		}
	}
	c.mid, _ = fitAll(at, mids, 1, n, 2*reach)
	var both, low, high []float64 // squares of the radius
	twice := make([]float64, 0, 2*n)
	uneven, all := 0.0, 0.0 // over the surface
	for _, t := range at {
		k := int(t)
		l, h := sq(c.mid[k]-lo[first+k]), sq(hi[first+k]-c.mid[k])
		twice, both = append(twice, t, t), append(both, l, h)
		low, high = append(low, l), append(high, h)
	}
	c.square, c.slope = fitAll(twice, both, 2, n, reach)
	_, below := fitAll(at, low, 2, n, reach)
	_, above := fitAll(at, high, 2, n, reach)
	for k, square := range c.square {
		c.slope[k] /= 2
		c.top = max(c.top, math.Sqrt(max(square, 1)))
		r := 2 * math.Sqrt(max(square, 1))
		uneven, all = uneven+r*sq(math.Atan(above[k]/r)-math.Atan(below[k]/r)), all+r
	}
	c.unevenDeg = math.Sqrt(uneven/all) * 180 / math.Pi
	return c
}

// at is the middle and the square of the radius at a place along the axis, between
// the entries; beyond the ends they are the last ones'.
func (c contour) at(along float64) (mid, square float64) {
	t := min(max(along-float64(c.first), 0), float64(len(c.mid)-1))
	k := min(int(t), max(0, len(c.mid)-2))
	f, next := t-float64(k), min(k+1, len(c.mid)-1)
	return c.mid[k] + f*(c.mid[next]-c.mid[k]), c.square[k] + f*(c.square[next]-c.square[k])
}

// fitAll is a local fit at the places 0 to n − 1: it is laid 48 times within reach,
// closely enough for places far off to lose their say from one to the next, and between two of those a cubic takes over with their values and slopes (W. S.
// Cleveland and E. Grosse, Stat. Comput. 1, 47–62, 1991, doi:10.1007/BF01890836).
func fitAll(at, values []float64, degree, n int, reach float64) (value, slope []float64) {
	value, slope = make([]float64, n), make([]float64, n)
	step := max(1, int(reach/48))
	var f localFits
	value[0], slope[0] = f.fit(at, values, degree, 0, reach)
	for from := 0; from < n-1; from += step {
		to := min(from+step, n-1)
		value[to], slope[to] = f.fit(at, values, degree, float64(to), reach)
		long := float64(to - from)
		for k := from + 1; k < to; k++ {
			t := float64(k-from) / long
			s := 1 - t
			value[k] = s*s*(1+2*t)*value[from] + t*t*(1+2*s)*value[to] + long*s*t*(s*slope[from]-t*slope[to])
			slope[k] = s*slope[from] + t*slope[to]
		}
	}
	return value, slope
}

// localFits are fits at one place after another.
type localFits struct {
	room  []float64
	usual [fitRounds]float64 // the median of what each round left at the last place: the next is near
}

const fitRounds = 4

// fit is the value and the slope at x of a polynomial, up to degree 2, laid
// through the values at sorted places within reach of it. What lies far off has no
// say (locally weighted regression, with its weights: W. S. Cleveland, J. Am. Stat.
// Assoc. 74, 829–836, 1979).
func (f *localFits) fit(at, values []float64, degree int, x, reach float64) (value, slope float64) {
	const least = 6 // places
	lo, _ := slices.BinarySearch(at, x-reach)
	hi, _ := slices.BinarySearch(at, x+reach)
	if hi-lo < least {
		lo, hi = max(0, min(lo, len(at)-least)), min(len(at), max(hi, least))
	}
	at, values = at[lo:hi], values[lo:hi]
	var p [3]float64
	n := len(at)
	f.room = slices.Grow(f.room[:0], 5*n)[:5*n]
	left, over, near, away, room := f.room[:n], f.room[n:2*n], f.room[2*n:3*n], f.room[3*n:4*n], f.room[4*n:]
	for i, t := range at {
		away[i] = (t - x) / reach
		d := math.Abs(away[i])
		w := max(1-d*d*d, 1e-3)
		near[i], left[i] = w*w*w, 0
	}
	far := math.Inf(1)
	for round := range fitRounds {
		var of [5]float64 // sums of the weights times powers of the distance
		var by [3]float64 // and times the values
		for i, d := range away {
			r := left[i] / far
			if math.Abs(r) >= 1 {
				continue
			}
			w := near[i] * sq(1-r*r)
			wd := w * d
			wdd := wd * d
			of[0], of[1], of[2], of[3], of[4] = of[0]+w, of[1]+wd, of[2]+wdd, of[3]+wdd*d, of[4]+wdd*d*d
			by[0], by[1], by[2] = by[0]+w*values[i], by[1]+wd*values[i], by[2]+wdd*values[i]
		}
		rows := make([][]float64, degree+1)
		for j := range rows {
			rows[j] = append(append(make([]float64, 0, degree+2), of[j:j+degree+1]...), by[j])
		}
		fit, ok := solve(rows)
		if !ok {
			break
		}
		copy(p[:], fit)
		if round == fitRounds-1 {
			break
		}
		for i, d := range away {
			left[i] = values[i] - (p[0] + d*(p[1]+d*p[2]))
			over[i] = math.Abs(left[i])
		}
		usual, ok := nthBetween(over, n/2, 0.8*f.usual[round], 1.25*f.usual[round], room)
		if !ok {
			usual = nth(over, n/2)
		}
		f.usual[round], far = usual, 6*usual+1e-9
	}
	return p[0], p[1] / reach
}
