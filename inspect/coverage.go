package inspect

import (
	"image"
	"math"

	"jigloupe/calib/cv"
)

// bareness says for each pixel of a head how much of the coat is missing.
type bareness struct {
	opacity cv.Plane // of the coat, in [0, 1]; 1 where nothing says otherwise
	chroma  cv.Plane // how colourful the coat should be there: what opacity rests on
}

// bareAt is the opacity below which a spot counts as bare.
const bareAt = 0.5

// measureBareness splits the colour of each pixel into the coat's own and a
// neutral part: q = a·c + n·(1, 1, 1), least squares over the three channels
// in linear light. Shadow lowers a and leaves n small; glare raises n and
// leaves a; where metal or a white base shows, the coat's colour is gone and
// something neutral stands in its place. So the opacity is a, unless the pixel
// is merely darker.
func measureBareness(l *look, c *coat) bareness {
	s, t := l.shape, l.tones
	b := bareness{cv.NewPlane(s.w, s.h), cv.NewPlane(s.w, s.h)}
	for i, v := range s.head.Pix {
		b.opacity.Pix[i] = 1
		if v == 0 {
			continue
		}
		var q, want [3]float64
		var qm, wm float64
		for k := range q {
			q[k] = math.Exp(float64(t.plane[k].Pix[i])) - toe
			want[k] = math.Exp(float64(c.expected[k].Pix[i])) - toe
			qm, wm = qm+q[k]/3, wm+want[k]/3
		}
		var cross, square float64
		for k := range q {
			cross += (q[k] - qm) * (want[k] - wm)
			square += (want[k] - wm) * (want[k] - wm)
		}
		b.chroma.Pix[i] = float32(math.Sqrt(square))
		if square == 0 {
			continue
		}
		a := cross / square
		neutral := qm - a*wm
		if share := neutral / max(qm, 0.02); share > 0.4 {
			b.opacity.Pix[i] = float32(min(max(a, 0), 1))
		}
	}
	return b
}

// leastChroma is how colourful, as a standard deviation of the three channels
// relative to card, a coat must be for its absence to show: below it three
// steps of an 8-bit photo make half the difference.
const leastChroma = 0.03

// bareSpots joins the bare pixels to spots. Eye marks pixels of an eye seen in
// front of the head.
func bareSpots(l *look, b bareness) (spots []spot, err error) {
	s := l.shape
	m := image.NewGray(s.head.Rect)
	for i, a := range b.opacity.Pix {
		if s.depth.Pix[i] >= 2 && a < bareAt && b.chroma.Pix[i] > leastChroma {
			m.Pix[i] = 255
		}
	}
	labels, blobs, err := cv.Blobs(m)
	if err != nil {
		return nil, err
	}
	for _, blob := range blobs {
		if blob.Area < smallestSpot {
			continue
		}
		sp := spot{blob: blob, least: 1}
		for y := blob.Bounds.Min.Y; y < blob.Bounds.Max.Y; y++ {
			for x := blob.Bounds.Min.X; x < blob.Bounds.Max.X; x++ {
				if i := y*s.w + x; labels[i] == blob.Label {
					sp.pixels = append(sp.pixels, i)
					sp.least = min(sp.least, float64(b.opacity.Pix[i]))
					sp.rim = max(sp.rim, float64(l.angles.Pix[i]))
				}
			}
		}
		spots = append(spots, sp)
	}
	return spots, nil
}

// coverage reports the spots that are not the eye, adds them to notCoat, and
// sums them up. Scale is mm per patch px, 0 when unknown.
func (l *look) coverage(c *coat, b bareness, spots []spot, notCoat []bool, scale float64) ([]BareSpot, *Coverage) {
	out := []BareSpot{}
	visible, area, unclear := 0, 0, 0
	for i, d := range l.shape.depth.Pix {
		if d >= 2 && !notCoat[i] {
			visible++
			if b.chroma.Pix[i] <= leastChroma {
				unclear++
			}
		}
	}
	for _, sp := range spots {
		if notCoat[sp.pixels[0]] {
			continue
		}
		for _, i := range sp.pixels {
			notCoat[i] = true
		}
		area += len(sp.pixels)
		out = append(out, l.bareSpot(sp, visible, scale))
	}
	pct := 100 * float64(area) / float64(max(visible, 1))
	u := 0.1*pct + 0.02
	cov := &Coverage{BareAreaPct: &pct, U: &u}
	if scale > 0 {
		mm2 := float64(area) * scale * scale
		least := scale * 2 * math.Sqrt(smallestSpot/math.Pi)
		if share := float64(unclear) / float64(max(visible, 1)); share > 0.5 {
			least = scale * 2 * l.shape.radius
		}
		cov.BareAreaMM2, cov.SmallestVisibleMM = &mm2, &least
	}
	return out, cov
}

func (l *look) bareSpot(sp spot, visible int, scale float64) BareSpot {
	at := l.toPhoto(sp.blob.X, sp.blob.Y)
	s := BareSpot{
		X: at.X, Y: at.Y,
		AreaPx:     len(sp.pixels) * l.Step * l.Step,
		SharePct:   100 * float64(len(sp.pixels)) / float64(max(visible, 1)),
		DiameterPx: sp.diameter() * float64(l.Step),
		Opacity:    sp.least, Where: "face", Shows: "metal", Confidence: 1 - sp.least,
		Place: "on the face",
	}
	if sp.rim > 65 {
		s.Where, s.Place = "edge", "on an edge"
	}
	if scale > 0 {
		mm, mm2 := sp.diameter()*scale, float64(len(sp.pixels))*scale*scale
		s.DiameterMM, s.AreaMM2 = &mm, &mm2
	}
	m := image.NewGray(l.shape.head.Rect)
	for _, i := range sp.pixels {
		m.Pix[i] = 255
	}
	s.Outline = l.polygon(m)
	return s
}

// smallestSpot is the least area a spot is believed at, in patch px.
const smallestSpot = 12

// spot is a connected area of a head in patch pixels.
type spot struct {
	blob   cv.Blob
	pixels []int
	least  float64 // opacity where it is barest
	rim    float64 // largest viewing angle in it, degrees
}

// diameter is that of the circle of equal area, patch px.
func (s spot) diameter() float64 { return 2 * math.Sqrt(float64(len(s.pixels))/math.Pi) }

// length and width are those of the ellipse with the same second moments.
func (s spot) size(w int) (length, width float64) {
	var xx, xy, yy float64
	for _, i := range s.pixels {
		dx, dy := float64(i%w)-s.blob.X, float64(i/w)-s.blob.Y
		xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
	}
	n := float64(len(s.pixels))
	mean, diff := (xx+yy)/2/n, math.Hypot((xx-yy)/2, xy)/n
	return 4 * math.Sqrt(mean+diff+1.0/12), 4 * math.Sqrt(max(mean-diff, 0)+1.0/12)
}
