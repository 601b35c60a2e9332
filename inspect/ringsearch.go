package inspect

import (
	"cmp"
	"math"
	"slices"
)

// leastRating is how much a find must look like a ring of wire. On 288 drawn photos chance
// arrangements of edges with as much card around as leastCard, and not behind the body, were
// rated up to 0.61, but for one off the tip at 0.68 beside an eye far clearer; 3 of 236 eyes
// that show their hole were rated lower.
const leastRating = 0.64

// leastCard is the least share of card around an eye that is known by it: of 230 on drawn
// photos none had less than 0.5; sockets and patterns in the coat, one of them clearer than
// the eye beside it, had 0.15 to 0.31.
const leastCard = 0.4

// unlikely is how much clearer a ring must be behind the body, where chance arrangements of
// the collar's lips and the hook are rated up to 0.69. Where the hook is taken for
// something else the eye may seem to be there.
const unlikely = 0.1

// unsureRating is the least rating of a ring that only what it is made of tells from chance.
// Eyes before the head, or half behind it, were rated 0.52 to 0.65 on drawn photos.
const unsureRating = 0.5

// findRing is the eye's ring, nil when none is seen well enough, and those that may be it.
func (n *eyeLook) findRing() (best *ring, unsure []ring) {
	g := n.tones.slopes()
	var all []ring
	for _, r := range n.candidates(g) {
		r.clear = r.rating(g)
		if n.onCollar(&r) {
			r.clear -= unlikely
		}
		if r.clear >= unsureRating {
			unsure = append(unsure, r)
		}
		if r.clear < leastRating || n.cardAround(&r) < leastCard {
			continue
		}
		if n.shadowLike(&r) {
			r.clear-- // the eye's shadow on the card is a ring too
		}
		all = append(all, r)
		if best == nil || r.clear > best.clear {
			best = &r
		}
	}
	if best == nil {
		return nil, unsure
	}
	// streaks of glare and the edge of a film make rings within the wire's own
	const nearly = 0.1
	first := *best
	best = nil
	for _, r := range all {
		if first.outside(r.x, r.y) < 1 && r.clear > first.clear-nearly {
			if r.widen(g); best == nil || r.hole() > best.hole() {
				best = &r
			}
		}
	}
	return best, unsure
}

// onCollar tells whether the middle of a ring lies behind the body, where the collar and the
// hook are.
func (n *eyeLook) onCollar(r *ring) bool {
	return (r.x-n.x)*n.hook[0]+(r.y-n.y)*n.hook[1] > n.radius
}

// hole is the area of a ring's hole, over π, in px².
func (r *ring) hole() float64 { return (r.long - r.half) * (r.flat*r.long - r.half) }

// shadowLike tells whether a ring looks like nothing but card in shadow.
func (n *eyeLook) shadowLike(r *ring) bool {
	dark := float32(math.Log(0.7 + toe))
	for _, p := range r.around(rungs) {
		i, ok := n.index(p.x, p.y)
		if !ok || !n.cardLike(i) || n.tones.plane[1].Pix[i] > dark {
			return false
		}
	}
	return true
}

// candidates are rings where there may be one.
//
// Whatever the light, a wire has two edges, one wire apart, at which some
// channel goes up and comes down again or the other way round. No shadow, no
// socket and no glare does so all the way round. Candidates come from trying
// rings of all sizes; the best are fitted to the edges.
func (n *eyeLook) candidates(g *slopes) []ring {
	e := g.byDirection()
	// a ring that reaches farther than the picture is wide can't show half of itself
	reach := min((1+mostHalf)*mostLong/n.mm, float64(max(e.w, e.h)))
	blocks := [2]*blockMap{e.blocks(wideBlock, int(reach)), e.blocks(narrowBlock, int(reach))}
	var out []ring
	for _, half := range [3]float64{0.2, 0.32, 0.43} {
		try := slices.DeleteFunc(newTrials(n.mm, half), func(t trial) bool { return t.long+t.half > reach })
		for _, r := range n.places(e, blocks, try) {
			if r.fit(g, n.mm); r.clear > 0 {
				out = append(out, r)
			}
		}
	}
	return out
}

// places are where one of the trials matches best, up to 25 that lie apart.
func (n *eyeLook) places(e *headingMap, blocks [2]*blockMap, try []trial) (kept []ring) {
	t := n.tones
	reach := (eyeReach - (1+mostHalf)*mostLong) / n.mm // the whole ring lies within it
	all := make([]*trial, len(try))
	for k := range try {
		try[k].lay(e.w)
		all[k] = &try[k]
	}
	wide, narrow := make([][]*trial, e.w), make([][]*trial, e.w) // of the blocks in this row: the trials that can match in them
	var found []ring
	for y := 0; y < t.h; y += 2 {
		for x := 0; x < t.w; x += 2 {
			b, c := x>>wideBlock, x>>narrowBlock
			if b<<wideBlock == x && y>>wideBlock<<wideBlock == y {
				wide[b] = wide[b][:0]
				if math.Hypot(float64(x)-n.x, float64(y)-n.y) < reach+math.Sqrt2*(1<<wideBlock) {
					wide[b] = blocks[0].worth(wide[b], all, b, y>>wideBlock)
				}
			}
			if c<<narrowBlock == x && y>>narrowBlock<<narrowBlock == y {
				narrow[c] = blocks[1].worth(narrow[c][:0], wide[b], c, y>>narrowBlock)
			}
			if len(narrow[c]) == 0 || math.Hypot(float64(x)-n.x, float64(y)-n.y) > reach {
				continue
			}
			best := ring{clear: leastTrial}
			for _, t := range narrow[c] {
				if c := e.match(t, x, y, best.clear); c > best.clear {
					best = t.ring
					best.clear = c
				}
			}
			if best.long > 0 {
				best.x, best.y = float64(x), float64(y)
				found = append(found, best)
			}
		}
	}
	slices.SortFunc(found, func(a, b ring) int { return cmp.Compare(b.clear, a.clear) })
	for _, c := range found {
		if slices.ContainsFunc(kept, func(k ring) bool { return math.Hypot(k.x-c.x, k.y-c.y) < 0.3*k.long }) {
			continue
		}
		if kept = append(kept, c); len(kept) == 25 {
			break
		}
	}
	return kept
}

// slopes are the changes of tone per px to the right and downwards, per channel.
type slopes struct {
	w, h int
	x, y [3][]float32
}

func (t *tones) slopes() *slopes {
	g := &slopes{w: t.w, h: t.h}
	for k := range t.plane {
		p := t.plane[k].Pix
		g.x[k], g.y[k] = make([]float32, len(p)), make([]float32, len(p))
		for y := 1; y < t.h-1; y++ {
			for i := y*t.w + 1; i < y*t.w+t.w-1; i++ {
				g.x[k][i], g.y[k][i] = (p[i+1]-p[i-1])/2, (p[i+t.w]-p[i-t.w])/2
			}
		}
	}
	return g
}

// along is the slope at a place in a direction, per channel; 0 outside.
func (g *slopes) along(x, y, nx, ny float64) (d [3]float64) {
	x0, y0 := int(math.Floor(x)), int(math.Floor(y))
	if x0 < 0 || y0 < 0 || x0+1 >= g.w || y0+1 >= g.h {
		return d
	}
	fx, fy := float32(x-float64(x0)), float32(y-float64(y0))
	i := y0*g.w + x0
	mix := func(p []float32) float64 {
		return float64((p[i]*(1-fx)+p[i+1]*fx)*(1-fy) + (p[i+g.w]*(1-fx)+p[i+g.w+1]*fx)*fy)
	}
	for k := range d {
		d[k] = nx*mix(g.x[k]) + ny*mix(g.y[k])
	}
	return d
}

// headings is how many directions of a slope are told apart.
const headings = 16

// A heading map says for each direction how strong a slope that way is within a
// px of each pixel: 0 none, 128 as strong as twice edgeHalf.
type headingMap struct {
	w, h int
	at   [][headings]uint8
}

func heading(x, y float64) uint {
	return uint(int(math.Round(math.Atan2(y, x)/(2*math.Pi)*headings))+headings) % headings
}

func (g *slopes) byDirection() *headingMap {
	m := &headingMap{w: g.w, h: g.h, at: make([][headings]uint8, g.w*g.h)}
	const half = headings / 2
	var raw, wide [2][]uint8 // this direction and the one against it; the strongest of three in a row
	for side := range raw {
		raw[side], wide[side] = make([]uint8, g.w*g.h), make([]uint8, g.w*g.h)
	}
	for b := range half {
		s, c := math.Sincos(2 * math.Pi * float64(b) / headings)
		sin, cos := float32(s), float32(c)
		for i := range raw[0] {
			var v, against float32
			for k := range g.x {
				d := g.x[k][i]*cos + g.y[k][i]*sin
				v, against = max(v, d), max(against, -d)
			}
			raw[0][i] = uint8(255 * v / (v + 2*edgeHalf))
			raw[1][i] = uint8(255 * against / (against + 2*edgeHalf))
		}
		for side := range raw {
			raw, wide := raw[side], wide[side]
			for i := 1; i < len(raw)-1; i++ {
				wide[i] = max(raw[i-1], raw[i], raw[i+1])
			}
			for y := 1; y < g.h-1; y++ {
				for i := y*g.w + 1; i < y*g.w+g.w-1; i++ {
					m.at[i][b+side*half] = max(wide[i-g.w], wide[i], wide[i+g.w])
				}
			}
		}
	}
	return m
}

// A trial is a ring to be tried at many places: where its inner and outer edge
// lie at each rung, and which way they face.
type trial struct {
	ring
	in, out [rungs][2]int
	heading [rungs]uint
	reach   int           // px from the middle that holds all of these
	steps   [rungs][2]int // the same places as steps in a map, see lay
}

// lay counts the places of a trial in the pixels of a map of a width.
func (t *trial) lay(w int) {
	for k := range rungs {
		in, out := t.in[k], t.out[k]
		t.steps[k] = [2]int{in[1]*w + in[0], out[1]*w + out[0]}
		t.reach = max(t.reach, in[0], -in[0], in[1], -in[1], out[0], -out[0], out[1], -out[1])
	}
}

// leastTrial is the least mean strength of edges, on the scale of a heading
// map, at which a trial is worth fitting.
const leastTrial = 0.5

// newTrials are rings of all sizes whose wire is half·long thick on either side of
// its middle.
func newTrials(mm, half float64) (all []trial) {
	add := func(r ring) {
		t := trial{ring: r}
		for k, p := range r.around(rungs) {
			j := k * 7 % rungs // far apart one after another, so that a few tell early
			t.in[j] = [2]int{int(math.Round(p.x - r.half*p.nx)), int(math.Round(p.y - r.half*p.ny))}
			t.out[j] = [2]int{int(math.Round(p.x + r.half*p.nx)), int(math.Round(p.y + r.half*p.ny))}
			t.heading[j] = heading(p.nx, p.ny)
		}
		all = append(all, t)
	}
	for long := 1.1 * leastLong / mm; long < mostLong/mm; long *= 1.2 {
		add(ring{long: long, half: half * long, flat: 1})
		const turns = 6
		for k := range turns {
			add(ring{long: long, half: half * long, flat: 0.72, turn: math.Pi * float64(k) / turns})
		}
	}
	return all
}

// match is the mean strength of the weaker edge over the rungs of a trial, 0
// when it cannot exceed beat.
func (m *headingMap) match(t *trial, x, y int, beat float64) float64 {
	sum, least := 0, int(beat*255*rungs)
	if x >= t.reach && y >= t.reach && x+t.reach < m.w && y+t.reach < m.h {
		at := y*m.w + x
		for k := range rungs {
			in, out := &m.at[at+t.steps[k][0]], &m.at[at+t.steps[k][1]]
			a, b := t.heading[k], (t.heading[k]+headings/2)%headings
			sum += int(max(min(in[a], out[b]), min(in[b], out[a])))
			if k&3 == 3 && sum+(rungs-1-k)*200 < least {
				return 0
			}
		}
		return float64(sum) / (255 * rungs)
	}
	for k := range rungs {
		u, v, p, q := x+t.in[k][0], y+t.in[k][1], x+t.out[k][0], y+t.out[k][1]
		if u >= 0 && v >= 0 && u < m.w && v < m.h && p >= 0 && q >= 0 && p < m.w && q < m.h {
			in, out := &m.at[v*m.w+u], &m.at[q*m.w+p]
			a, b := t.heading[k], (t.heading[k]+headings/2)%headings
			sum += int(max(min(in[a], out[b]), min(in[b], out[a])))
		}
		if k&3 == 3 && sum+(rungs-1-k)*200 < least {
			return 0
		}
	}
	return float64(sum) / (255 * rungs)
}
