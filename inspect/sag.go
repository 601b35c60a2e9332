package inspect

import (
	"cmp"
	"math"
	"slices"
)

// bulge is a place where the outline leaves its reference outwards.
type bulge struct {
	at     int // of the rim's places, where it is highest
	height float64
	length float64 // mm along the outline, at its foot
	foot   []int   // the rim's places on it
	open   bool    // the outline is lost on a side before it has come down: it may not be the head's there
}

// sways smooths the distances along the rim so that nothing shorter than half a
// bulge is left, and gives the spread of what is no bulge, both in mm.
func sways(rim []rimPoint, away []float64) (smooth []float64, spread float64) {
	n := len(rim)
	half := int(math.Round(bulgeMM / rimStepMM / 2))
	smooth = make([]float64, n)
	var sizes []float64
	for k := range rim {
		var near []float64
		for d := -half; d <= half; d++ {
			if j := (k + d + n) % n; rim[j].trusted {
				near = append(near, away[j])
			}
		}
		if len(near) <= half {
			smooth[k] = math.NaN()
			continue
		}
		slices.Sort(near)
		smooth[k] = near[len(near)/2]
		if len(near)%2 == 0 {
			smooth[k] = (near[len(near)/2] + near[len(near)/2-1]) / 2
		}
		if rim[k].trusted {
			sizes = append(sizes, math.Abs(smooth[k]))
		} else {
			smooth[k] = math.NaN()
		}
	}
	if len(sizes) == 0 {
		return smooth, math.NaN()
	}
	slices.Sort(sizes)
	return smooth, sizes[len(sizes)/2] / 0.6745
}

// bulges are the stretches that rise to least mm or more, each with its foot at
// an eighth of its height. What strays by spread has come down from its top when it
// is lower by twice that.
func bulges(rim []rimPoint, away, smooth []float64, least, spread float64) []bulge {
	n := len(rim)
	var found []bulge
	taken := make([]bool, n)
	for {
		b := bulge{at: -1, height: least}
		for k, h := range smooth {
			if !taken[k] && h >= b.height {
				b.at, b.height = k, h
			}
		}
		if b.at < 0 {
			return found
		}
		taken[b.at] = true
		b.foot = append(b.foot, b.at)
		lows := []float64{} // of the sides that are lost, the lowest that is seen
		for _, dir := range [2]int{1, n - 1} {
			low, lost := away[b.at], 0
			for k := (b.at + dir) % n; !taken[k] && !(smooth[k] <= b.height/8); k = (k + dir) % n {
				if math.IsNaN(smooth[k]) {
					if lost++; float64(lost)*rimStepMM > bulgeMM { // more than a bulge may be hidden
						lows = append(lows, low)
						break
					}
					continue
				}
				taken[k] = true
				b.foot = append(b.foot, k)
				b.length += rimStepMM * float64(1+lost)
				low, lost = min(low, away[k]), 0
			}
		}
		// the median over a bulge's length flattens its top, and lets what comes down before
		// the outline is lost look level: both are told from fewer places
		top := 0.0
		for _, k := range b.foot {
			top = max(top, topOf(rim, away, k))
		}
		for _, low := range lows {
			b.open = b.open || top-low < 2*spread
		}
		if b.open || b.length >= bulgeMM {
			b.height = max(b.height, topOf(rim, away, b.at))
			found = append(found, b)
		}
	}
}

// topOf is the median of three neighbouring distances, 0 where they are not all trusted.
func topOf(rim []rimPoint, away []float64, k int) float64 {
	n := len(rim)
	before, after := (k+n-1)%n, (k+1)%n
	if !rim[before].trusted || !rim[k].trusted || !rim[after].trusted {
		return 0
	}
	top := []float64{away[before], away[k], away[after]}
	slices.Sort(top)
	return top[1]
}

// measureOutline compares the outline with a smooth one.
func (f *film) measureOutline(r *Relief) ([]ReliefFault, error) {
	if f.look.rough {
		r.OutlineNote = noteRough
		return nil, nil
	}
	r.OutlineNote = noteNoRim
	rim, err := f.rim()
	if err != nil || len(rim) < 20 {
		return nil, err
	}
	ref := f.reference(rim)
	if ref == nil {
		r.OutlineNote = noteNoForm
		return nil, nil
	}
	rim = body(rim, ref.away, f.rimTolerance())
	if trustedShare(rim) < leastRim {
		return nil, nil
	}
	ref = f.resettle(ref, rim)
	smooth, spread := sways(rim, ref.away)
	if math.IsNaN(spread) {
		return nil, nil
	}
	r.OutlineNote = ""
	away := f.castForm(rim, ref, smooth)
	u := f.outlineDoubt(spread)
	var faults []ReliefFault
	most := 0.0
	for _, b := range bulges(rim, away, smooth, max(believedMM, 4*u), spread) {
		if b.open || f.parted(rim, away, smooth, b) {
			if f.sized {
				r.DoubtfulMM = larger(r.DoubtfulMM, &b.height)
			}
			for _, k := range b.foot {
				smooth[k] = math.NaN()
			}
			continue
		}
		most = max(most, b.height)
		at := f.photoPoint(rim[b.at])
		fault := ReliefFault{Kind: f.kindOf(rim[b.at], b), X: at.X, Y: at.Y, Place: "on the outline", Confidence: 1 - math.Exp(-b.height/(4*u))}
		f.size(&fault, b.length, b.height, math.Hypot(u, wideFoot*b.height))
		faults = append(faults, fault)
	}
	f.fillOutline(r, rim, smooth, most, u)
	return faults, nil
}

// parted tells whether an edge along the reference outline parts a bulge from the head, as it
// does an eye that shows behind it and a shadow: paint goes on without one.
func (f *film) parted(rim []rimPoint, away, smooth []float64, b bulge) bool {
	const (
		// a change of log level per px, the median over the bulge's higher half: up to 0.083 at
		// 26 true lumps and sags of five drawn sets, 0.091 and 0.102 at a run and a lump with
		// steep sides, and 0.12 and more at 5 of 13 bulges that were none
		sharp = 0.11
		reach = 2  // px
		clear = 12 // px, from where on the outline's own edge has no say there
	)
	if b.height < clear*f.mm {
		return false
	}
	s := f.look.shape
	var edges []float32
	for _, k := range b.foot {
		if smooth[k] > b.height/2 {
			dx, dy := unit(rim[k].x, rim[k].y)
			x, y := (rim[k].x-away[k]*dx)/f.mm, (rim[k].y-away[k]*dy)/f.mm
			edges = append(edges, strongest(f.look.edge, s.centre.X+int(math.Round(x)), s.centre.Y+int(math.Round(y)), reach))
		}
	}
	return len(edges) > 0 && nth(edges, len(edges)/2) > sharp
}

// Why no deviation of the outline is known, and what would mend it.
const (
	noteRough  = "The coat is as grey as the card, and its outline was found only roughly: photograph it on a plain white or black sheet with the grey card beside it."
	noteNoRim  = "Hardly any of the outline stands clear of shadows and wire: move the lamp so that no side lies in shadow, or photograph it on a plain white or black sheet with the grey card beside it."
	noteNoForm = "The outline has no smooth form that lumps and sags could be told from, often because a shadow beside the head was taken in: photograph it in softer light, or on a plain white or black sheet with the grey card beside it."
)

// castForm takes out of the distances, smoothed in place and unsmoothed, what the
// head's other side rises by too: castings are the same on both sides of the line
// along their hook, so that is the casting's own form, a shoulder say. What lies
// so near that line that a bulge may reach its own mirror image stays. The line is
// known to a few degrees, which moves a mirror image by less than a bulge is long.
// Where the eye's foot hides the other side, the nearest of it that is seen counts,
// as far as a lump is long.
func (f *film) castForm(rim []rimPoint, ref *shapeFit, smooth []float64) []float64 {
	away := slices.Clone(ref.away)
	long := math.Hypot(f.root.x-ref.p[0], f.root.y-ref.p[1])
	if ref.name == "mirror image" || long < f.look.shape.radius*f.mm/2 {
		return away // it has no sides that differ, or no line
	}
	ux, uy := (f.root.x-ref.p[0])/long, (f.root.y-ref.p[1])/long
	form := make([]float64, len(rim))
	for k, q := range rim {
		off := (q.y-ref.p[1])*ux - (q.x-ref.p[0])*uy
		if 2*math.Abs(off) < narrowMM {
			continue
		}
		x, y := q.x+2*off*uy, q.y-2*off*ux
		reach := bulgeMM
		if !seenAt(rim, x, y) {
			reach = narrowMM
		}
		for j, o := range rim {
			if math.Hypot(o.x-x, o.y-y) < reach && smooth[j] > form[k] {
				form[k] = smooth[j]
			}
		}
	}
	for k, own := range form {
		if smooth[k] > 0 {
			own = min(own, smooth[k])
			smooth[k], away[k] = smooth[k]-own, away[k]-own
		}
	}
	return away
}

// seenAt tells whether the place of the rim nearest to x, y mm is trusted.
func seenAt(rim []rimPoint, x, y float64) bool {
	near := slices.MinFunc(rim, func(a, b rimPoint) int {
		return cmp.Compare(math.Hypot(a.x-x, a.y-y), math.Hypot(b.x-x, b.y-y))
	})
	return near.trusted
}

// resettle lays the reference anew on what is no bulge, so that a bulge does not
// lean on it; not where less of the rim lies on it then.
func (f *film) resettle(ref *shapeFit, rim []rimPoint) *shapeFit {
	tol := f.rimTolerance()
	for range 3 {
		smooth, spread := sways(rim, ref.away)
		if math.IsNaN(spread) {
			break
		}
		calm := slices.Clone(rim)
		for _, b := range bulges(rim, ref.away, smooth, max(believedMM, 2*f.outlineDoubt(spread)), spread) {
			for _, k := range b.foot {
				calm[k].trusted = false
			}
		}
		next := &shapeFit{smoothShape: ref.smoothShape, p: slices.Clone(ref.p), away: make([]float64, len(rim))}
		for range 3 {
			next.step(calm, 4*tol)
		}
		if next.weigh(rim, tol); next.merit() < ref.merit() {
			break
		}
		ref = next
	}
	return ref
}

// outlineDoubt is the standard uncertainty of a deviation, mm: what the rest of
// the outline strays by, and two pixels, to which it is seen where a head ends;
// see TestHeadAndViewingAngles.
func (f *film) outlineDoubt(spread float64) float64 { return math.Hypot(spread, 2*f.mm) }

// wideFoot is how much of a bulge's height the reference may swallow where the
// foot of the bulge runs out slowly, as a share; see TestSagsComeBack.
const wideFoot = 0.2

// narrowMM is how long along the outline a lump may be; what is longer is a sag.
// Common practice, no source.
const narrowMM = 3.0

// kindOf names a bulge: a cone where paint ran to the tip and stands off it, a
// lump where it is narrow, else a sag. A run down the side looks like either from
// where it shows on the outline. Widths are common practice, no source.
func (f *film) kindOf(q rimPoint, b bulge) string {
	x, y := unit(f.root.x, f.root.y)
	toTip := -(q.x*x + q.y*y) / max(math.Hypot(q.x, q.y), 1e-9)
	switch {
	case toTip > 0.9 && b.height > b.length/5:
		return "cone"
	case b.length < narrowMM:
		return "lump"
	}
	return "sag"
}

// leastRim is the share of the outline that must be seen clearly for its form to
// say anything: a quarter fixes a circle to a tenth of what its places stray by
// (three unknowns from thirty places and more).
const leastRim = 0.25

func trustedShare(rim []rimPoint) float64 {
	n := 0
	for _, q := range rim {
		if q.trusted {
			n++
		}
	}
	return float64(n) / float64(len(rim))
}

func (f *film) photoPoint(q rimPoint) Point {
	s := f.look.shape
	return f.look.toPhoto(float64(s.centre.X)+q.x/f.mm, float64(s.centre.Y)+q.y/f.mm)
}

// fillOutline records the deviation along the outline, and along how much of it
// that is known; most is that of the
// highest bulge. A film can only add to a
// casting, so the largest is sought outwards; dents are the casting's.
func (f *film) fillOutline(r *Relief, rim []rimPoint, smooth []float64, most, u float64) {
	known := 0
	for _, h := range smooth {
		if !math.IsNaN(h) {
			known++
		}
	}
	pct := 100 * float64(known) / float64(len(rim))
	r.OutlineSeenPct = &pct
	if !f.sized {
		return
	}
	for k, h := range smooth {
		if math.IsNaN(h) {
			continue
		}
		most = max(most, h)
		p := f.photoPoint(rim[k])
		r.Deviation = append(r.Deviation, Sway{p.X, p.Y, h})
	}
	u = math.Hypot(u, wideFoot*most)
	r.OutlineDeviationMM, r.U = &most, &u
}
