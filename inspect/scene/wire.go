package scene

import "math"

// Wire is the hook with its line-tie eye, cast into the head. Without a width
// there is none.
type Wire struct {
	WidthMM      float64 // of the wire, 0.6 to 1
	ShankMM      float64 // bare shank between collar and bend
	GapMM        float64 // between shank and point
	RingMM       float64 // hole of the line-tie eye
	EyeFilled    float64 // share of the hole's area closed by a film of paint, 0 to 1
	ShankPaintMM float64 // how far the paint runs down the shank beyond the collar
	PointPaintMM float64 // how far the hook's point was dipped
	Metal        RGB     // mirror reflectance; zero is nickel
}

// hook is the wire of one piece in the piece's own frame. Shank, bend, point
// and ring lie in the plane y = 0; the eye and the point are on the same side.
type hook struct {
	Wire
	r         float64 // of the wire
	from      float64 // the shank comes out of the casting here
	bend      float64 // the bend starts here
	bendR     float64 // radius of the bend
	point     float64 // the point ends here
	ring      vec     // centre of the ring
	ringR     float64 // from the centre to the middle of its wire
	stem      vec     // of the ring, from inside the head
	stemEnd   vec
	filledToX float64 // the film covers the hole up to here
}

func newHook(w Wire, c *casting) hook {
	h := hook{Wire: w, r: w.WidthMM / 2, from: c.end()}
	h.bend = h.from + w.ShankMM
	h.bendR = w.GapMM / 2
	h.point = h.bend - 0.75*w.GapMM - 2
	h.ringR = w.RingMM/2 + h.r
	x := -0.1 * c.big
	foot := c.surface(x, 0)
	h.ring = vec{x - 0.3, 0, foot.z + 0.7 + h.ringR}
	toward := h.ring.sub(foot).unit()
	h.stem, h.stemEnd = foot.plus(-0.5, toward), h.ring.plus(-h.ringR, toward)
	h.filledToX = h.ring.x + w.RingMM/2*filledTo(w.EyeFilled)
	return h
}

// filledTo is how far across a hole of radius 1, from −1 to 1, a film with a
// straight edge reaches that fills this share of its area.
func filledTo(share float64) float64 {
	lo, hi := -1.0, 1.0
	for range 40 {
		x := (lo + hi) / 2
		if (math.Acos(-x)+x*math.Sqrt(1-x*x))/math.Pi < share {
			lo = x
		} else {
			hi = x
		}
	}
	return hi
}

// painted says whether paint went astray on the wire at p.
func (h *hook) painted(p vec) bool {
	if p.z > h.bendR {
		return p.x < h.point+h.PointPaintMM
	}
	return p.x < h.from+h.ShankPaintMM
}

// part is what a ray can meet.
type part uint8

const (
	headPart part = iota
	shank
	eyeRing
	eyeFilm
)

// distance is the signed distance in mm from the nearest part.
func (h *hook) distance(p vec) (float64, part) {
	// shank, bend and point: a tube about a path in the plane
	var near, r float64
	if p.x >= h.bend {
		near, r = math.Abs(hypot(p.x-h.bend, p.z-h.bendR)-h.bendR), h.r
	} else {
		shankX := max(0, min(p.x, h.bend))
		near, r = hypot(p.x-shankX, p.z), h.r
		pointX := max(p.x, h.point)
		toPoint := hypot(p.x-pointX, p.z-2*h.bendR)
		taper := h.r * clamp((pointX-h.point)/2.4, 0.08, 1)
		if toPoint-taper < near-r {
			near, r = toPoint, taper
		}
	}
	d, which := hypot(near, p.y)-r, shank
	if p.z > h.bendR && p.x < h.point+5 {
		// the barb, cut up from the inner side of the point towards the bend
		inner := 2*h.bendR - 0.5*h.r
		d = min(d, segmentDistance(p, vec{h.point + 1.5, 0, inner}, vec{h.point + 2.5, 0, inner - h.r})-0.1)
	}
	radial := hypot(p.x-h.ring.x, p.z-h.ring.z)
	if ring := hypot(radial-h.ringR, p.y) - h.r; ring < d {
		d, which = ring, eyeRing
	}
	if radial < h.ringR+3 {
		if stem := segmentDistance(p, h.stem, h.stemEnd) - 0.9*h.r; stem < d {
			d, which = stem, eyeRing
		}
	}
	if h.EyeFilled > 0 {
		film := max(max(radial-h.ringR, p.x-h.filledToX), math.Abs(p.y)-0.12)
		if film < d {
			d, which = film, eyeFilm
		}
	}
	return d, which
}

func segmentDistance(p, a, b vec) float64 {
	ab, ap := b.sub(a), p.sub(a)
	return ap.plus(-clamp(ap.dot(ab)/ab.dot(ab), 0, 1), ab).len()
}

// rods follow the wire closely enough for its shadow.
func (h *hook) rods() []rod {
	if h.WidthMM == 0 {
		return nil
	}
	rods := []rod{{vec{h.from, 0, 0}, vec{h.bend, 0, 0}, h.r}}
	last := vec{h.bend, 0, 0}
	const bends = 8
	for i := 1; i <= bends; i++ {
		s, c := math.Sincos(math.Pi * float64(i) / bends)
		next := vec{h.bend + h.bendR*s, 0, h.bendR * (1 - c)}
		rods = append(rods, rod{last, next, h.r})
		last = next
	}
	thin := vec{h.point + 1.5, 0, last.z}
	rods = append(rods, rod{last, thin, h.r}, rod{thin, vec{h.point, 0, last.z}, 0.3 * h.r})
	rods = append(rods, rod{h.stem, h.stemEnd, 0.9 * h.r})
	const parts = 14
	for i := range parts {
		at := func(i int) vec {
			s, c := math.Sincos(2 * math.Pi * float64(i) / parts)
			return h.ring.add(vec{h.ringR * s, 0, h.ringR * c})
		}
		rods = append(rods, rod{at(i), at(i + 1), h.r})
	}
	for x := h.ring.x - h.ringR; x < h.filledToX; x += 0.2 {
		if half := math.Sqrt(max(0, h.ringR*h.ringR-(x-h.ring.x)*(x-h.ring.x))); half > 0 {
			rods = append(rods, rod{vec{x, 0, h.ring.z - half}, vec{x, 0, h.ring.z + half}, 0.12})
		}
	}
	return rods
}
