package inspect

import (
	"math"

	"jigloupe/calib/cv"
)

// spot is a connected area of a head in patch pixels.
type spot struct {
	blob   cv.Blob
	pixels []int
	least  float64 // opacity where it is barest
	rim    float64 // largest viewing angle in it, degrees
	depth  float64 // largest distance from the outline of the head, px
	level  float64 // mean level relative to card

	clipped float64 // share of it at the camera's limit
	strip   float64 // share of it that lies in bareStrips
}

// isStrip tells whether a spot is a strip between flanks of coat, and bare by its
// opacity too: that decides what it is.
func (s spot) isStrip() bool { return s.strip > 0.5 && s.least < bareAt }

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

// thinRim is how deep, in patch px, a spot must reach: along the outline itself
// the coat is blurred into what lies behind it.
const thinRim = 4

// smallestSpot is the least area in patch px that is looked at.
const smallestSpot = 12

// leastSpot is the least diameter a spot is reported at, in patch px: half the
// usual limit of 0.5 mm on a head 7 mm across, and never less than two blurred
// edges.
func (l *look) leastSpot() float64 { return max(0.036*2*l.shape.radius, 6) }
