package inspect

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
)

// What a photo with only the lamp moved says of a mark. A shadow, a mirrored
// lamp and a flash of flakes move with the lamp; paint and bare metal stay
// (common practice, no source).
const (
	Stays   = "stays"   // the mark is there in both
	Gone    = "gone"    // the other photo shows the coat there: it is light, no fault
	Unclear = "unclear" // the other photo cannot tell, say because the place is dark there
)

// Doubtful is the confidence below which a mark is as likely wrong as right.
const Doubtful = 0.6

// settle sets the marks of photos that differ only in the lamp against each
// other. What is gone is no fault any more and is counted nowhere. Seen are the
// photos' coats, nil of one that could not be measured.
func settle(photos []*Photo, seen []*lit) {
	said := make([]map[int][]string, len(photos)) // by number of the mark, from each twin
	for i := range photos {
		said[i] = map[int][]string{}
	}
	for i := range photos {
		for j := range i {
			if seen[i] == nil || seen[j] == nil || photos[i].Lamp == photos[j].Lamp {
				continue
			}
			m, ok := register(seen[i], seen[j])
			if !ok {
				photos[i].Problems = append(photos[i].Problems, fmt.Sprintf(
					"Set against %s, the head does not lie as it did, so marks could not be compared place by place. Move nothing but the lamp.", photos[j].File))
			}
			pair{photos[i], photos[j], seen[j], m, ok}.compare(said[i])
			if ok {
				m = m.back()
			}
			pair{photos[j], photos[i], seen[i], m, ok}.compare(said[j])
		}
	}
	for i, ph := range photos {
		ph.take(said[i])
	}
}

// A pair is a photo and its twin, the light in which the twin shows the head,
// and the placing of the photo on the twin, if the two could be registered.
type pair struct {
	photo, twin *Photo
	lit         *lit
	placing
	registered bool
}

// compare adds what the twin says of each mark of the photo.
func (p pair) compare(said map[int][]string) {
	for _, s := range p.photo.BareSpots {
		said[s.Number] = append(said[s.Number], p.ofSpot(s))
	}
	for _, s := range p.photo.DarkSpots {
		said[s.Number] = append(said[s.Number], p.ofSpot(s))
	}
	for _, f := range p.photo.ReliefFaults {
		said[f.Number] = append(said[f.Number], p.ofRelief(f))
	}
}

// together is what several twins say of a mark; contradicting each other they
// leave it unclear. "" without twins.
func together(said []string) string {
	stays, gone := slices.Contains(said, Stays), slices.Contains(said, Gone)
	switch {
	case len(said) == 0:
		return ""
	case stays && !gone:
		return Stays
	case gone && !stays:
		return Gone
	}
	return Unclear
}

// ofSpot says whether a bare spot stays. It is gone only where the twin surely
// shows the coat at that place; that it finds no spot there is not enough.
func (p pair) ofSpot(s BareSpot) string {
	if !p.registered {
		return Unclear
	}
	core := s.core()
	for k, q := range core {
		core[k] = p.at(q)
	}
	for _, t := range p.twin.BareSpots {
		within := 0
		for _, q := range core {
			if q.Within(t.Outline) {
				within++
			}
		}
		if 4*within >= len(core) {
			return Stays
		}
	}
	// The outlines are registered to a few pixels: wherever within that the twin
	// looks barest is taken for the place.
	const slack, step = 6, 2     // patch px
	const coat = 0.3 * bareSteps // half of a mix with metal that would be reported, and a little more for scatter
	barest := 0
	for dy := -slack; dy <= slack; dy += step {
		for dx := -slack; dx <= slack; dx += step {
			var bare []int
			card := 0
			for _, q := range core {
				switch v := p.lit.at(Point{q.X + float64(dx*p.lit.Step), q.Y + float64(dy*p.lit.Step)}); v {
				case openCard:
					card++
				case cannotTell:
				default:
					bare = append(bare, int(v))
				}
			}
			here := dx == 0 && dy == 0
			switch {
			case here && 5*card >= 4*len(core) && !p.rolled(s):
				return Gone // the other photo took shadow on the card for a part of the head
			case 5*len(bare) >= 4*len(core):
				slices.Sort(bare)
				if here && float64(bare[len(bare)/4]) >= leastNeutral*bareSteps {
					return Stays // there, though too soft or too small to be found by itself
				}
				barest = max(barest, bare[len(bare)*3/4])
			case here:
				return Unclear
			}
		}
	}
	if float64(barest) > coat || p.rolled(s) {
		return Unclear
	}
	return Gone
}

// rolled tells whether the twin has a spot alike, beside this one across the
// axis of the head: the piece may have rolled a little, which its outline hides.
func (p pair) rolled(s BareSpot) bool {
	if p.twin.Head == nil {
		return false
	}
	a := p.twin.Head.Axis
	dx, dy := unit(a[1].X-a[0].X, a[1].Y-a[0].Y)
	at := p.at(Point{s.X, s.Y})
	for _, t := range p.twin.BareSpots {
		x, y := t.X-at.X, t.Y-at.Y
		like := t.DiameterPx / s.DiameterPx
		if like > 0.75 && like < 1.33 && math.Abs(x*dx+y*dy) < 0.1*p.lit.radius && math.Hypot(x, y) < 0.6*p.lit.radius {
			return true
		}
	}
	return false
}

// ofRelief says whether a relief fault stays. Only of a fault on the outline can
// a twin say that it is gone: where it shows the outline smooth at that place,
// the other photo took shadow for paint. The shading of lumps and pinholes
// depends on where the lamp stands, so that not seeing them says nothing.
func (p pair) ofRelief(f ReliefFault) string {
	if !p.registered {
		return Unclear
	}
	at := p.at(Point{f.X, f.Y})
	for _, t := range p.twin.ReliefFaults {
		if t.Kind == f.Kind && math.Hypot(t.X-at.X, t.Y-at.Y) < max((f.DiameterPx+t.DiameterPx)/4, 0.04*p.lit.radius) {
			return Stays
		}
	}
	if r := p.twin.Relief; f.onOutline() && f.HeightMM != nil && r != nil {
		places, most := 0, 0.0
		for _, w := range r.Deviation {
			if math.Hypot(w.X-at.X, w.Y-at.Y) < max(f.DiameterPx/4, 0.06*p.lit.radius) {
				places++
				most = max(most, math.Abs(w.DeviationMM))
			}
		}
		if places >= 3 && r.U != nil && most+2**r.U < *f.HeightMM/2 {
			return Gone
		}
	}
	return Unclear
}

// take takes over what the twins say of a photo's marks: what stays is surer,
// what is gone is put aside and taken off the measures.
func (ph *Photo) take(said map[int][]string) {
	if len(said) == 0 {
		return
	}
	// Either photo could have been wrong for a reason of its own.
	surer := func(confidence float64) float64 { return 1 - (1-confidence)/2 }
	spots, dark, relief := []BareSpot{}, []BareSpot{}, []ReliefFault{}
	for _, s := range ph.BareSpots {
		switch s.LampMoved = together(said[s.Number]); s.LampMoved {
		case Gone:
			ph.ClearedSpots = append(ph.ClearedSpots, s)
			ph.Coverage.change(s, -1)
			continue
		case Stays:
			s.Confidence = surer(s.Confidence)
		}
		spots = append(spots, s)
	}
	for _, s := range ph.DarkSpots {
		switch s.LampMoved = together(said[s.Number]); s.LampMoved {
		case Gone:
			ph.ClearedSpots = append(ph.ClearedSpots, s)
		case Stays:
			if s.Shows != MetalOrShadow { // the card stays where it is when the lamp moves
				dark = append(dark, s)
				continue
			}
			s.Confidence, s.Shows = surer(s.Confidence), "metal"
			ph.Coverage.change(s, 1)
			spots = append(spots, s)
		default:
			dark = append(dark, s)
		}
	}
	for _, f := range ph.ReliefFaults {
		switch f.LampMoved = together(said[f.Number]); f.LampMoved {
		case Gone:
			ph.ClearedRelief = append(ph.ClearedRelief, f)
			continue
		case Stays:
			f.Confidence = surer(f.Confidence)
		}
		relief = append(relief, f)
	}
	ph.BareSpots, ph.DarkSpots, ph.ReliefFaults = spots, dark, relief
	if len(ph.ClearedRelief) > 0 {
		ph.outlineAgain()
	}
}

// change takes a spot that is no fault off the bare area, with sign -1, or adds
// one that is, with sign 1.
func (c *Coverage) change(s BareSpot, sign float64) {
	pct := max(0, *c.BareAreaPct+sign*s.SharePct)
	u := areaDoubt(pct)
	c.BareAreaPct, c.U = &pct, &u
	if c.BareAreaMM2 != nil && s.AreaMM2 != nil {
		mm2 := max(0, *c.BareAreaMM2+sign**s.AreaMM2)
		c.BareAreaMM2 = &mm2
	}
}

// core are places well inside a spot, photo px.
func (s BareSpot) core() []Point {
	if len(s.Outline) < 3 {
		return []Point{{s.X, s.Y}}
	}
	lo, hi := s.Outline[0], s.Outline[0]
	for _, p := range s.Outline {
		lo, hi = Point{min(lo.X, p.X), min(lo.Y, p.Y)}, Point{max(hi.X, p.X), max(hi.Y, p.Y)}
	}
	const across = 24 // places along the longer side
	step := max(hi.X-lo.X, hi.Y-lo.Y) / across
	type depth struct {
		p    Point
		edge float64
	}
	var all []depth
	deepest := 0.0
	for y := lo.Y + step/2; y < hi.Y; y += step {
		for x := lo.X + step/2; x < hi.X; x += step {
			if q := (Point{x, y}); q.Within(s.Outline) {
				_, edge := nearest(q, s.Outline)
				all, deepest = append(all, depth{q, edge}), max(deepest, edge)
			}
		}
	}
	out := []Point{}
	for _, d := range all {
		if d.edge >= deepest/2 {
			out = append(out, d.p)
		}
	}
	if len(out) == 0 {
		return []Point{{s.X, s.Y}}
	}
	return out
}

func (f ReliefFault) onOutline() bool { return strings.HasPrefix(f.Place, "on the outline") }

// outlineAgain takes the outline's deviation anew, without what was cleared.
func (ph *Photo) outlineAgain() {
	r := ph.Relief
	if r == nil || r.OutlineDeviationMM == nil {
		return
	}
	most := 0.0
	for _, f := range ph.ReliefFaults {
		if f.onOutline() && f.HeightMM != nil {
			most = max(most, *f.HeightMM)
		}
	}
	for _, w := range r.Deviation {
		if !slices.ContainsFunc(ph.ClearedRelief, func(f ReliefFault) bool {
			return f.onOutline() && math.Hypot(w.X-f.X, w.Y-f.Y) < f.DiameterPx
		}) {
			most = max(most, w.DeviationMM)
		}
	}
	own := sq(*r.U) - sq(wideFoot**r.OutlineDeviationMM) // see fillOutline
	u := math.Sqrt(max(own, 0) + sq(wideFoot*most))
	r.OutlineDeviationMM, r.U = &most, &u
}

// lampWords is a sentence on whether a bare spot may be a shadow, "" when that is
// beyond doubt without a second photo: on the face, in light from all sides.
func (p *Piece) lampWords(file string, s *BareSpot) string {
	k := slices.IndexFunc(p.Photos, func(ph Photo) bool { return ph.File == file })
	if s == nil || k < 0 {
		return ""
	}
	ph := &p.Photos[k]
	diffuse := ph.Travel != nil && ph.Travel.Light == "diffuse"
	switch {
	case s.LampMoved == Stays:
		return " It stays where it is when the lamp moves, so it is no shadow."
	case s.LampMoved == Unclear:
		return " Whether it is a shadow the photo with the lamp moved can't tell: the place is dark or out of sight there. One more with the lamp on another side would decide."
	case s.Where == "face" && diffuse && s.Confidence >= Doubtful:
		return ""
	}
	return fmt.Sprintf(" A photo with only the lamp moved%s would decide whether it is a shadow.", ph.twinName())
}

// twinName is what the photo with the lamp moved should be called, with a comma
// on either side; "" when the photo's own name says no view.
func (ph *Photo) twinName() string {
	end := filepath.Ext(ph.File)
	if stem := strings.TrimSuffix(ph.File, end); ph.Lamp == "" && ph.View != "" && strings.HasSuffix(stem, "_"+ph.View) {
		if last := ph.View[len(ph.View)-1]; last >= '0' && last <= '9' {
			return ", " + stem + "b" + end + ","
		}
	}
	return ""
}

// cleared says which marks of a piece were light, "" when none was.
func (p *Piece) cleared() string {
	n := 0
	for _, ph := range p.Photos {
		n += len(ph.ClearedSpots) + len(ph.ClearedRelief)
	}
	switch n {
	case 0:
		return ""
	case 1:
		return "One mark is gone where only the lamp was moved: it is light, no fault, and is not counted."
	}
	return fmt.Sprintf("%d marks are gone where only the lamp was moved: they are light, no faults, and are not counted.", n)
}
