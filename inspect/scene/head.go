package scene

import "math"

// Style is a head's form. The last two are no bodies of revolution.
type Style string

const (
	Ball     Style = "ball"
	Football Style = "football" // an egg, round about the hook's axis
	Bullet   Style = "bullet"   // a blunt cone with a flat back
	Tapered  Style = "tapered"  // a drop
	Coin     Style = "coin"     // a thick disc on edge
	Wedge    Style = "wedge"    // a drop with a flat sole that lets it stand up
)

// Head is the casting: head, collar and what the mould leaves on it.
type Head struct {
	Style    Style
	WidthMM  float64 // across the thickest place, 6 to 9
	CollarMM float64 // length of the collar; 0 for none
	Lips     int     // barbs on the collar, 0 to 2
	SocketMM float64 // width of the two eye sockets; 0 for none
	SeamMM   float64 // height of the casting seam; 0 for none
}

// LipMM is where along the axis the edge of the collar's nth lip is, n from 0.
func (h Head) LipMM(n int) float64 { return newCasting(h).lips[n] }

// TipMM is where along the axis the tip is.
func (h Head) TipMM() float64 {
	c := newCasting(h)
	return -max(c.long+c.tip, c.big)
}

// casting is a head with what follows from its style and width, all in mm.
type casting struct {
	Head
	big    float64 // radius at the thickest place, which is at the origin
	long   float64 // half length of an egg; of a drop, from the big to the small sphere
	tip    float64 // radius of a drop's small sphere
	back   float64 // where the collar starts
	neck   float64 // radius of the collar without its lips
	socket float64 // where along the axis the sockets are
	collar []corner
	lips   []float64
}

// corner is a point of the collar's outline: along the axis and out from it.
type corner struct{ x, out float64 }

const (
	filletMM = 0.3  // of the throat between head and collar
	edgeMM   = 0.04 // radius of a sharp cast edge
	lipMM    = 0.5  // how far a lip stands out
)

// newCasting's proportions are our own, in the range of common castings.
func newCasting(h Head) casting {
	r := h.WidthMM / 2
	c := casting{Head: h, big: r, back: 0.9 * r, neck: 0.42 * r, socket: -0.6 * r}
	switch h.Style {
	case Football:
		c.long, c.back = 1.35*r, 1.2*r
	case Bullet:
		c.long, c.tip, c.back = 1.5*r, 0.35*r, 0.5*r
	case Tapered:
		c.long, c.tip = 1.9*r, 0.3*r
	case Wedge:
		c.long, c.tip = 1.6*r, 0.35*r
	case Coin:
		c.socket, c.neck = -0.3*r, 0.32*r // thinner than the coin
	default:
		c.socket = -0.3 * r
	}
	if h.CollarMM == 0 {
		return c
	}
	start := c.back - 0.3*r // inside the head
	end := c.back + h.CollarMM
	c.collar = []corner{{start, 0}, {start, c.neck}}
	for i := range h.Lips {
		// a lip faces the head steeply and falls off towards the hook, to hold the bait
		x := c.back + h.CollarMM*(float64(i)+0.5)/float64(h.Lips)
		fall := min(h.CollarMM*0.4/float64(h.Lips), 1.2)
		c.collar = append(c.collar, corner{x, c.neck}, corner{x + 0.12, c.neck + lipMM},
			corner{x + 0.2, c.neck + lipMM}, corner{x + 0.2 + fall, c.neck})
		c.lips = append(c.lips, x+0.16)
	}
	c.collar = append(c.collar, corner{end, c.neck}, corner{end, 0})
	return c
}

// end is where along the axis the casting ends and the wire comes out.
func (c *casting) end() float64 { return c.back + c.CollarMM }

// distance is the signed distance in mm from the plain casting, head and
// collar, without anything the mould, the powder or a fault adds. Outside it
// may be less than the true distance, never more by enough to matter.
func (c *casting) distance(p vec) float64 {
	out := hypot(p.y, p.z)
	var d float64
	switch c.Style {
	case Football:
		d = eggDistance(p.x, out, c.long, c.big)
	case Bullet:
		d = smoothMax(dropDistance(p.x, out, c.long, c.big, c.tip), p.x-c.back, 0.5)
	case Tapered:
		d = dropDistance(p.x, out, c.long, c.big, c.tip)
	case Coin:
		const round = 0.8
		u, v := hypot(p.x, p.z)-c.big+round, math.Abs(p.y)-0.42*c.big+round
		d = hypot(max(u, 0), max(v, 0)) + min(max(u, v), 0) - round
	case Wedge:
		sole := -p.z - 0.55*c.big - 0.12*p.x
		d = smoothMax(dropDistance(p.x, out, c.long, c.big, c.tip), sole, 0.6)
	default:
		d = p.len() - c.big
	}
	if c.collar == nil {
		return d
	}
	// the collar's outline is walked only where it can matter
	bound := max(out-c.neck-lipMM, max(c.collar[0].x-p.x, p.x-c.end())) - edgeMM
	if bound > max(d, 0)+filletMM {
		return d
	}
	return smoothMin(d, outlineDistance(c.collar, p.x, out)-edgeMM, filletMM)
}

// eggDistance approximates the distance from an ellipsoid of half length a and
// radius b; it is exact to first order at the surface.
func eggDistance(x, out, a, b float64) float64 {
	k0 := hypot(x/a, out/b)
	k1 := hypot(x/(a*a), out/(b*b))
	if k1 < 1e-9 {
		return -b
	}
	return k0 * (k0 - 1) / k1
}

// dropDistance is the exact distance from the hull of a sphere of radius big at
// the origin and one of radius small at x = −length.
func dropDistance(x, out, length, big, small float64) float64 {
	x = -x
	b := (big - small) / length
	a := math.Sqrt(1 - b*b)
	switch k := a*x - b*out; {
	case k < 0:
		return hypot(x, out) - big
	case k > a*length:
		return hypot(x-length, out) - small
	}
	return out*a + x*b - big
}

// outlineDistance is the exact signed distance from a body of revolution with a
// polygon as its half section. The polygon runs from the axis to the axis.
func outlineDistance(poly []corner, x, out float64) float64 {
	near, inside := math.Inf(1), false
	for i := 1; i < len(poly); i++ {
		a, b := poly[i-1], poly[i]
		ex, er := b.x-a.x, b.out-a.out
		wx, wr := x-a.x, out-a.out
		t := clamp((wx*ex+wr*er)/(ex*ex+er*er), 0, 1)
		dx, dr := wx-t*ex, wr-t*er
		near = min(near, dx*dx+dr*dr)
		if (a.x <= x) != (b.x <= x) && out < a.out+er*(x-a.x)/ex {
			inside = !inside
		}
	}
	if inside {
		return -math.Sqrt(near)
	}
	return math.Sqrt(near)
}

// smoothMin joins two bodies with a fillet about k wide, smoothMax cuts one
// with the other and rounds the edge.
func smoothMin(a, b, k float64) float64 {
	h := max(k-math.Abs(a-b), 0) / k
	return min(a, b) - h*h*k/4
}

func smoothMax(a, b, k float64) float64 { return -smoothMin(-a, -b, k) }

// mouldRelief is what the mould adds to (+) or takes from the surface, in mm.
func (c *casting) mouldRelief(p vec) float64 {
	relief := 0.0
	if c.SeamMM > 0 && math.Abs(p.y) < 0.4 {
		relief += c.SeamMM * math.Exp(-p.y*p.y/(2*0.07*0.07))
	}
	if c.SocketMM > 0 {
		fromRim := c.SocketMM/2 - hypot(p.x-c.socket, p.z-0.1*c.big)
		relief -= 0.18 * ramp((fromRim+0.1)/0.2)
	}
	return relief
}
