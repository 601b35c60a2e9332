package inspect

import (
	"cmp"
	"math"
	"slices"

	"jigloupe/calib"
)

// merge makes the piece's measures from those of its usable photos. Bare area
// and relief are those of the worst photo, the travel curve is pooled. Nothing is
// added up over photos: where two views overlap is not known, and a fault that
// both show would count twice. So the bare area is that of one view, too.
func (p *Piece) merge() {
	p.findRepeats()
	p.Eye = EyeUnseen
	var travels []*Travel
	views := map[string]bool{}
	for k := range p.Photos {
		ph := &p.Photos[k]
		if !ph.Usable || ph.SameAs != "" {
			continue
		}
		views[ph.View] = true
		if ph.Travel != nil && ph.Lamp == "" {
			travels = append(travels, ph.Travel)
		}
		p.Coverage = worseCoverage(p.Coverage, ph.Coverage)
		p.Relief = worseRelief(p.Relief, ph.Relief)
		p.mergeEye(ph)
	}
	p.Travel = PoolTravel(travels)
	p.Seen = seen(len(views))
}

// findRepeats marks photos that show the very same as an earlier one, under
// another name: they show no other side.
func (p *Piece) findRepeats() {
	for k := range p.Photos {
		b := &p.Photos[k]
		for j := range k {
			a := &p.Photos[j]
			if a.Usable && b.Usable && a.Head != nil && b.Head != nil && a.SameAs == "" && a.Width == b.Width && a.Height == b.Height && len(a.Head.Outline) > 0 && slices.Equal(a.Head.Outline, b.Head.Outline) {
				b.SameAs = a.File
				b.Problems = append(b.Problems, "It is the same photo as "+a.File+" under another name, so it counts once: photograph another side.")
				break
			}
		}
	}
}

// mergeEye takes over what a photo shows of the eye: paint in it counts wherever
// it shows, and one view through it is enough. As long as it is unseen, a view
// that shows the ring says best what is missing.
func (p *Piece) mergeEye(ph *Photo) {
	switch {
	case ph.Eye == EyeBlocked && p.Eye != EyeBlocked, ph.Eye == EyeOpen && p.Eye == EyeUnseen:
		p.Eye, p.EyeHole, p.EyeNote = ph.Eye, ph.EyeHole, ""
	case p.Eye == EyeUnseen && (p.EyeNote == "" || p.EyeNote == noteNoEye):
		p.EyeNote = ph.EyeNote
	}
}

// seen says how much of a head so many different views show.
func seen(views int) string {
	switch views {
	case 0:
		return "nothing"
	case 1:
		return "one side"
	case 2:
		return "two sides"
	}
	return "all around"
}

// worseCoverage keeps the larger bare area, and the larger of what could not
// be seen.
func worseCoverage(a, b *Coverage) *Coverage {
	if a == nil {
		return b
	}
	if b == nil {
		return a
	}
	out := *a
	if b.BareAreaPct != nil && (a.BareAreaPct == nil || *b.BareAreaPct > *a.BareAreaPct) {
		out = *b
	}
	out.SmallestVisibleMM = larger(a.SmallestVisibleMM, b.SmallestVisibleMM)
	return &out
}

func larger(a, b *float64) *float64 {
	if a == nil || b != nil && *b > *a {
		return b
	}
	return a
}

func more(a, b *int) *int {
	if a == nil || b != nil && *b > *a {
		return b
	}
	return a
}

func worseRelief(a, b *Relief) *Relief {
	if a == nil {
		return b
	}
	if b == nil {
		return a
	}
	out := *a
	if b.OutlineDeviationMM != nil && (a.OutlineDeviationMM == nil || math.Abs(*b.OutlineDeviationMM) > math.Abs(*a.OutlineDeviationMM)) {
		out = *b
	}
	out.OutlineSeenPct = larger(a.OutlineSeenPct, b.OutlineSeenPct)
	if out.OutlineNote = cmp.Or(a.OutlineNote, b.OutlineNote); out.OutlineSeenPct != nil {
		out.OutlineNote = ""
	}
	out.DoubtfulMM = larger(a.DoubtfulMM, b.DoubtfulMM)
	out.Lumps, out.Pinholes = more(a.Lumps, b.Lumps), more(a.Pinholes, b.Pinholes)
	if out.SmallestPinholeMM = nil; a.SmallestPinholeMM != nil && b.SmallestPinholeMM != nil {
		out.SmallestPinholeMM = larger(a.SmallestPinholeMM, b.SmallestPinholeMM)
	}
	out.LumpHeightMM = larger(a.LumpHeightMM, b.LumpHeightMM)
	out.OrangePeelUM = larger(a.OrangePeelUM, b.OrangePeelUM)
	return &out
}

// PoolTravel averages the curves of a piece's photos, or of a powder's pieces,
// weighted by their pixels; nil of none. The spread between photos, beyond what their own uncertainty
// explains, goes into the uncertainty of the mean.
func PoolTravel(travels []*Travel) *Travel {
	switch len(travels) {
	case 0:
		return nil
	case 1:
		return travels[0]
	}
	out := &Travel{Light: commonLight(travels), Curve: []TravelBin{}}
	var within []TravelBin // with the doubt that each photo states, without tone and the scatter between them
	for k := range bins {
		deg := (float64(k) + 0.5) * binDeg
		var sum TravelBin
		var same []TravelBin
		for _, t := range travels {
			for _, b := range t.Curve {
				if b.ViewingDeg == deg {
					w := float64(b.Px)
					sum.L, sum.A, sum.B = sum.L+w*b.L, sum.A+w*b.A, sum.B+w*b.B
					sum.Px += b.Px
					same = append(same, b)
				}
			}
		}
		if len(same) == 0 {
			continue
		}
		w := float64(sum.Px)
		mean := TravelBin{ViewingDeg: deg, L: sum.L / w, A: sum.A / w, B: sum.B / w, Px: sum.Px}
		var own, noise, tone, between float64
		n := float64(len(same))
		for _, b := range same {
			d := calib.DeltaE2000(mean.lab(), b.lab())
			own, noise = own+sq(b.withoutTone().U)/n, noise+sq(b.NoiseU)/n
			tone += b.ToneU / n
			between += d * d / n
		}
		mean.U, mean.NoiseU, mean.ToneU = math.Sqrt(own/n), math.Sqrt(noise/n), tone
		within = append(within, mean)
		mean.U = math.Hypot(math.Sqrt(max(own, between)/n), tone)
		out.Curve = append(out.Curve, mean)
	}
	// A photo that is lighter than another as a whole travels no less: what
	// counts for the travel is how the travels themselves scatter.
	out.summarise(within)
	out.scatter(travels)
	return out
}

// commonLight is the kind of light that the photos agree on; one that cannot
// tell does not disagree.
func commonLight(travels []*Travel) string {
	light := "unknown"
	for _, t := range travels {
		switch {
		case light == "unknown":
			light = t.Light
		case t.Light != "unknown" && t.Light != light:
			return "unknown"
		}
	}
	return light
}
