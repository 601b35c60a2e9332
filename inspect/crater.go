package inspect

import "slices"

// measureCraters finds small bowls with a raised rim (ISO 4618: crater) on the
// face by their shading. What a lump, a plain hollow or a socket with a flat
// floor explains as well is none: a painted-over void of the casting has no rim.
func (f *film) measureCraters(e *relit, candidates []found, known []ReliefFault) []ReliefFault {
	faults := []ReliefFault{}
	for _, c := range candidates {
		e := e.without(c.swelling)
		b := e.refine(c)
		if !e.isCrater(b) {
			continue
		}
		at := f.look.toPhoto((b.x+0.5)*float64(e.px), (b.y+0.5)*float64(e.px))
		fault := ReliefFault{Kind: "crater", X: at.X, Y: at.Y, Place: "on the face", Confidence: b.share}
		f.size(&fault, b.wide, b.height, e.doubt(b))
		if !slices.ContainsFunc(faults, fault.overlaps) && !slices.ContainsFunc(known, fault.overlaps) {
			faults = append(faults, fault)
		}
	}
	return faults
}

func (r *relit) isCrater(b found) bool {
	if b.share < leastShare || b.wide > mostWide || -b.height < max(leastHollow*b.wide, 2*r.doubt(b)) || r.at[b.index(r)].n.z < steepestView {
		return false
	}
	ours, _, _ := r.misfit(b.swelling, b.swelling, many)
	for _, h := range [3]swelling{
		{b.x, b.y, b.wide, b.height, rise}, {b.x, b.y, b.wide, -b.height, rise}, {b.x, b.y, b.wide, b.height, socket},
	} {
		rival := r.refine(found{swelling: h})
		if theirs, _, _ := r.misfit(rival.swelling, b.swelling, many); theirs < rivalry*ours {
			return false
		}
	}
	return true
}

// leastHollow is the least depth of a crater as a share of its width: its wall
// then slopes by five degrees, twice what orange peel does.
const leastHollow = 0.04
