package inspect

import "math"

// Light from all sides shades the rings of equal viewing angle evenly. One lamp
// leaves one side of each dark, or lights up the flakes of a few sectors. The
// bounds part heads drawn under tents from those under softboxes, windows and
// bare lamps, with a gap left for "unknown" (TestLightIsRecognised; of 42 photos
// of an independent renderer none wrong, three unknown).
const (
	evenSectors = 0.085
	lampSectors = 0.19
	lampTilt    = 0.17
)

// light tells from the head's own shading what it was lit by. One lamp is any
// light of which most comes from one side, a window too.
func (l *look) light() string {
	switch sectors, tilt, ok := l.shading(); {
	case !ok:
		return "unknown"
	case tilt > lampTilt || sectors > lampSectors:
		return "one_lamp"
	case sectors < evenSectors:
		return "diffuse"
	}
	return "unknown"
}

// shading is how far twelve sectors of the body's rings depart from the mean of
// their ring, as the root mean square of relative lightness, and the amplitude
// of the cosine over the direction from the middle that fits them best. Not ok
// when the rings do not go round.
func (l *look) shading() (sectors, tilt float64, ok bool) {
	const (
		from, to = 20, 70 // degrees; nearer the middle a ring has no sides, at the rim it is blurred
		parts    = ringParts
		leastPx  = 30
	)
	s := l.shape
	var sum, n [bins][parts]float64
	for i, d := range s.depth.Pix {
		a := l.angles.Pix[i]
		if d < 2 || a < from || a >= to || l.collar != nil && l.collar.Pix[i] != 0 {
			continue
		}
		k, part := int(a/binDeg), ringPart(i%s.w-s.centre.X, i/s.w-s.centre.Y)
		sum[k][part] += math.Cbrt(max(0, float64(l.Pix[3*i+1])))
		n[k][part]++
	}
	var squares, x, y, all float64
	for k := range sum {
		mean, seen := 0.0, 0.0
		for part := range parts {
			if n[k][part] > leastPx {
				mean, seen = mean+sum[k][part]/n[k][part], seen+1
			}
		}
		if seen < parts*2/3 || mean == 0 {
			continue
		}
		mean /= seen
		for part := range parts {
			if n[k][part] <= leastPx {
				continue
			}
			v := sum[k][part]/n[k][part]/mean - 1
			sin, cos := math.Sincos(2 * math.Pi * (float64(part) + 0.5) / parts)
			squares, x, y, all = squares+v*v, x+v*cos, y+v*sin, all+1
		}
	}
	if all == 0 {
		return 0, 0, false
	}
	return math.Sqrt(squares / all), 2 * math.Hypot(x, y) / all, true
}
