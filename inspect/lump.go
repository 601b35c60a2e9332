package inspect

import (
	"cmp"
	"math"
	"slices"
)

// measureLumps finds round rises on the face by their shading, those that the outline does
// not show already: what surely is one, and what may be.
func (f *film) measureLumps(t *toned, candidates []found, known []ReliefFault) (lumps, doubtful []ReliefFault, err error) {
	likely, err := t.likely()
	if err != nil {
		return nil, nil, err
	}
	var all []lump
	for _, c := range candidates[:min(len(candidates), mostPlaces)] {
		all = t.addLump(all, c.swelling)
	}
	for _, b := range likely {
		all = t.addLump(all, b.swelling)
	}
	slices.SortStableFunc(all, func(a, b lump) int { return cmp.Compare(b.better(), a.better()) })
	doubtful = []ReliefFault{}
	for _, l := range all {
		fault := f.lumpAt(t.relit, l)
		switch {
		case slices.ContainsFunc(slices.Concat(known, lumps, doubtful), fault.overlaps):
		case l.sure():
			lumps = append(lumps, fault)
		default:
			doubtful = append(doubtful, fault.doubtful())
		}
	}
	return lumps, doubtful, nil
}

// lump is a place of the face that is shaded as a lump would be.
type lump struct {
	found
	rivals  [3]float64 // by each look, how much worse everything else explains the place
	heights [3]float64 // by each look, mm
	flat    bool       // the head is
}

// better is the mean over the looks of how much worse everything else explains the place. A
// flat head has the tilts between its face and its rim only in a narrow edge: what its tones
// say, the first look, may confirm a lump there but not rule one out.
func (l lump) better() float64 {
	if l.flat {
		return math.Sqrt(l.rivals[1] * l.rivals[2])
	}
	return math.Cbrt(l.rivals[0] * l.rivals[1] * l.rivals[2])
}

// sure tells whether every look alone says that there is a lump, and all about the same height.
func (l lump) sure() bool {
	return slices.Min(l.rivals[:]) >= rivalry && slices.Max(l.heights[:]) <= mostApart*slices.Min(l.heights[:])
}

// addLump adds what may be a lump at a place.
//
// It is looked at in three ways that go wrong in different places: by what the head's own
// tones, without those of the place, say of a lump of some height, and as a rise whatever its
// tones are, with the place's own tones among the head's and without them. Where they are
// among them they hide a part of a lump; where they are not, the tones of their tilts are
// guessed from tilts beside them.
func (t *toned) addLump(all []lump, at swelling) []lump {
	b := t.without(at).refine(found{swelling: at})
	with, other := t.settle(bump{swelling: at}), t.settle(bump{swelling: b.swelling})
	if other.weight() > with.weight() {
		with = other
	}
	if with.share < leastWith || !t.stands(&with) {
		return all
	}
	head := t.without(with.swelling)
	alone := head.settle(with)
	if alone.along < alike || !head.stands(&alone) {
		return all
	}
	l := lump{found: head.refine(found{swelling: with.swelling}), flat: t.flat}
	if other := head.refine(b); other.share > l.share {
		l.found = other
	}
	form := l.swelling
	if l.flat {
		form = alone.swelling
	}
	if !head.mayBeLump(form) {
		return all
	}
	l.rivals = [3]float64{head.rivalOfLump(l.found), t.rival(&with), head.rival(&alone)}
	l.heights = [3]float64{l.height, with.height, alone.height}
	l.height = math.Cbrt(l.height * with.height * alone.height)
	if l.better() < rivalry {
		return all
	}
	return append(all, l)
}

// lumpAt is a lump as a fault.
func (f *film) lumpAt(r *relit, l lump) ReliefFault {
	at := f.look.toPhoto((l.x+0.5)*float64(r.px), (l.y+0.5)*float64(r.px))
	fault := ReliefFault{Kind: "lump", X: at.X, Y: at.Y, Place: "on the face", Confidence: l.share}
	f.size(&fault, l.wide, l.height, lumpDoubt*l.height)
	return fault
}

// doubtful is a fault that may be none, of a height that is not known.
func (f ReliefFault) doubtful() ReliefFault {
	f.HeightMM, f.U, f.Confidence = nil, nil, 0.5
	return f
}

// addLumps counts the lumps of the face in.
func (r *Relief) addLumps(lumps []ReliefFault) {
	n := len(lumps)
	r.Lumps = &n
	for _, g := range lumps {
		r.LumpHeightMM = larger(r.LumpHeightMM, g.HeightMM)
	}
}

// found is a swelling with the share of the residual's variance it explains.
type found struct {
	swelling
	share float64
}

const (
	// leastShare of what is odd about a place must be explained by a crater there: more than by
	// everything else together.
	leastShare = 0.55
	// leastOn is the share of a lump's foot that must show coat: a lamp's mirror image in its
	// flank may pass for a bare spot.
	leastOn = 0.7
	// leastFlank is the least height as a share of its width: its flank then slopes by
	// a seventh of a right angle, more than an outline leaves open about the tilt.
	leastFlank = 0.08
	// rivalry is how much worse than a lump everything else must explain a place, on the mean of
	// three looks for what may be one and by each for what surely is. On 746 photographs of four
	// drawn sets and the practice ones, where a limit of each look's own found 18 of 46 lumps in
	// view and doubted 10, 23 are found and 9 doubted; of 245 good pieces 4 are sent back by a
	// place that is none, and 12 were sent back or failed.
	rivalry = 1.5
	// steepestView is the cosine of the viewing angle, 65°, beyond which a lump
	// is the outline's business.
	steepestView = 0.42
	// leastWide is the width in mm of the narrowest swelling: eight cells.
	leastWide = 0.6
	// mostWide is that of the widest, over which the head's own form is not known
	// well enough; what fits best wider still, as far as widestTried, is that form.
	mostWide, widestTried = 3.0, 4.2
)

// mayBeLump tells whether a swelling has a lump's form, where shading can tell one.
func (r *relit) mayBeLump(b swelling) bool {
	if b.wide < leastBump || b.wide > mostWide || b.height < max(believedMM, leastFlank*b.wide) || r.at[b.index(r)].n.z < steepestView {
		return false
	}
	return r.foot(b) >= leastOn
}

// rivalOfLump is how many times as much as a lump a hollow leaves, there or beside it, round or
// with a flat floor: the best of them.
func (r *relit) rivalOfLump(b found) float64 {
	ours, _, _ := r.misfit(b.swelling, b.swelling, many)
	least := mostBetter * ours
	aside := b.wide / 2 / r.cell
	for _, by := range [5][2]float64{{0, 0}, {aside, 0}, {-aside, 0}, {0, aside}, {0, -aside}} {
		for _, f := range [2]form{rise, socket} {
			h := swelling{b.x + by[0], b.y + by[1], b.wide, -b.height, f}
			if !r.holds(h) {
				continue
			}
			rival := r.refine(found{swelling: h})
			theirs, _, _ := r.misfit(rival.swelling, b.swelling, many)
			least = min(least, theirs)
		}
	}
	return least / max(ours, 1e-9)
}

// sought says what swellings are tried everywhere: widths are in mm, heights shares of
// them, the flattest first.
type sought struct {
	form            form
	widths, heights []float64
}

var (
	soughtLumps   = sought{rise, []float64{1, 1.4, 2, 2.8}, []float64{0.1, 0.18, 0.28}}
	soughtCraters = sought{crater, []float64{0.7, 1, 1.4, 2}, []float64{-0.06, -0.12, -0.2}}
)

// candidates are, of each kind, the places where a swelling explains much of the
// residual, the best first, none within another. Kinds are tried side by side, since
// those of one width have a site in common.
func (r *relit) candidates(kinds ...sought) [][]found {
	var widths []float64
	for _, k := range kinds {
		widths = append(widths, k.widths...)
	}
	slices.Sort(widths)
	widths = slices.Compact(widths)
	all, best := make([][]found, len(kinds)), make([]found, len(kinds))
	step := max(2, int(0.25/r.cell))
	for y := step; y < r.h-step; y += step {
		for x := step; x < r.w-step; x += step {
			if c := r.at[y*r.w+x]; !c.on || c.n.z < steepestView {
				continue
			}
			clear(best)
			for _, wide := range widths {
				if over := (swelling{x: float64(x), y: float64(y), wide: wide}); len(r.siteOf(over, few).cells) < leastCells {
					continue
				}
				for k, kind := range kinds {
					if !slices.Contains(kind.widths, wide) {
						continue
					}
					for _, ratio := range kind.heights {
						b := swelling{float64(x), float64(y), wide, ratio * wide, kind.form}
						left, all, _ := r.misfit(b, b, few)
						share := 1 - left/max(all, 1e-9)
						if share > best[k].share {
							best[k] = found{b, share}
						}
						if share < hopeless {
							break
						}
					}
				}
			}
			for k, b := range best {
				if b.share > leastShare/4 {
					all[k] = append(all[k], b)
				}
			}
		}
	}
	for k := range all {
		all[k] = r.apart(all[k])
	}
	return all
}

// hopeless is how much a swelling explains where a higher one can't explain anything: what
// it leaves grows with the square of its height. Of 230,000 places tried on drawn
// photographs four fifths are, and where a higher one explained most the flattest
// explained -0.25 or more.
const hopeless = -0.5

// leastCells of a site are on the head for a swelling to be sought there.
const leastCells = 60

// apart are the best of candidates that do not lie within one another.
func (r *relit) apart(all []found) (kept []found) {
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(b.share, a.share) })
	for _, c := range all {
		if !slices.ContainsFunc(kept, func(k found) bool { return math.Hypot(c.x-k.x, c.y-k.y)*r.cell < 0.5 }) {
			kept = append(kept, c)
		}
	}
	return kept[:min(len(kept), 12)]
}

// leastSite is how wide a swelling's site is at least while it is moved, mm: swellings of
// all widths must explain the same cells, or a wide one beside an edge would explain more.
const leastSite = 2.4

// refine moves a swelling to where it explains most.
func (r *relit) refine(c found) found {
	over := swelling{x: c.x, y: c.y, wide: c.wide}
	if c.form != crater {
		over.wide = max(c.wide, leastSite)
	}
	explained := func(b swelling) float64 {
		left, all, n := r.misfit(b, over, many)
		if n < 40 {
			return -1
		}
		return 1 - left/max(all, 1e-9)
	}
	best := found{c.swelling, explained(c.swelling)}
	for _, step := range [4]float64{1, 0.5, 0.25, 0.1} {
		for again := true; again; {
			again = false
			b := best.swelling
			for _, m := range [8]swelling{
				{b.x + 3*step, b.y, b.wide, b.height, b.form}, {b.x - 3*step, b.y, b.wide, b.height, b.form},
				{b.x, b.y + 3*step, b.wide, b.height, b.form}, {b.x, b.y - 3*step, b.wide, b.height, b.form},
				{b.x, b.y, b.wide * (1 + 0.4*step), b.height, b.form}, {b.x, b.y, b.wide / (1 + 0.4*step), b.height, b.form},
				{b.x, b.y, b.wide, b.height * (1 + 0.4*step), b.form}, {b.x, b.y, b.wide, b.height / (1 + 0.4*step), b.form},
			} {
				if !r.holds(m) || m.wide < leastWide || m.wide > widestTried {
					continue
				}
				if s := explained(m); s > best.share+1e-4 {
					best, again = found{m, s}, true
				}
			}
		}
	}
	left, all, _ := r.misfit(best.swelling, best.swelling, many)
	best.share = 1 - left/max(all, 1e-9)
	return best
}

// doubt is the standard uncertainty of a height, mm: from how sharply the misfit
// rises about it, with one independent look per 0.2 mm square, and a quarter of it, for
// neither is the light as far nor the head as round as they are taken to be; see
// TestLumpCurve.
func (r *relit) doubt(b found) float64 {
	left, _, n := r.misfit(b.swelling, b.swelling, many)
	other := b.swelling
	other.height *= 1.25
	more, _, _ := r.misfit(other, other, many)
	looks := max(1, float64(n)*sq(r.cell/0.2))
	random := 0.25 * math.Abs(b.height) / math.Sqrt(looks*max(more/max(left, 1e-9)-1, 1e-3))
	return math.Hypot(min(random, math.Abs(b.height)), b.height/4)
}
