package inspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Judge sets the piece's measures against the limits. It needs no photo, so
// results can be judged again when a limit changes. A piece fails when any
// measure is beyond its limit, is to be photographed again when a usable photo
// or a measure that decides is missing, and passes otherwise.
//
// A call is close when the limit lies within the expanded uncertainty, k = 2,
// of the value (JCGM 106:2012, clause 7; ISO 14253-1). How far the measure
// scatters when the piece is placed again is part of it where that is known;
// again may be nil. Limits for its head style or powder go before those for all.
func (l Limits) Judge(p *Piece, again *Repeatability) {
	l, p.LimitsFor = l.For(p.Sheet)
	p.Reasons = []Reason{}
	views := usableViews(p)
	for k := range p.Photos {
		if ph := &p.Photos[k]; !ph.Usable {
			r := Reason{
				Measure: "photo", Outcome: Retake, File: ph.File,
				Says: ph.File + " can't be judged. " + first(ph.Problems),
				Fix:  "Photograph this view again.",
			}
			if views > 0 && !seenElsewhere(p, ph.View) {
				r.Says = ph.File + " can't be judged, and no other photo shows that view. " + first(ph.Problems)
				r.Fix = "Photograph this view again. With min_views in the limits a pass needs as many views as you ask for."
			}
			p.Reasons = append(p.Reasons, r)
		}
	}
	if views == 0 {
		if len(p.Photos) == 0 {
			p.Reasons = append(p.Reasons, Reason{
				Measure: "photo", Outcome: Retake,
				Says: "No photo of this piece is in the folder.",
				Fix:  "Name its photos " + p.Piece + "_1.jpg, " + p.Piece + "_2.jpg and so on.",
			})
		}
		p.Verdict = Retake
		return
	} else if views < l.MinViews {
		p.Reasons = append(p.Reasons, Reason{
			Measure: "views", Outcome: Retake,
			Says: fmt.Sprintf("Seen in %d of the %d views that are asked for.", views, l.MinViews),
			Fix:  "Photograph the sides that are missing.",
		})
	}
	l.judgeCoverage(p, again)
	l.judgeRelief(p, again)
	l.judgeEye(p)
	if without := p.withoutScale(); len(without) > 0 {
		p.Reasons = append(p.Reasons, Reason{
			Measure: "no_scale", Outcome: Pass,
			Says: fmt.Sprintf("No scale is known for %s, so no limit in mm was applied.", strings.Join(without, ", ")),
			Fix:  "Lay a tag beside the piece (jigloupe tags), or give mm_per_px in photos.csv or batch.csv.",
		})
	}
	if says := p.cleared(); says != "" {
		p.Reasons = append(p.Reasons, Reason{Measure: "cleared", Outcome: Pass, Says: says, Fix: "Nothing: look at the two photos if you want to be sure."})
	}
	p.Verdict = worstOutcome(p.Reasons)
}

// worstOutcome: a fault that was seen fails a piece, whatever else is missing;
// one usable view is enough for a pass unless the limits ask for more.
func worstOutcome(reasons []Reason) Outcome {
	out := Pass
	for _, r := range reasons {
		switch {
		case r.Outcome == Fail:
			return Fail
		case r.Outcome == Retake && r.Measure != "photo":
			out = Retake
		}
	}
	return out
}

func usableViews(p *Piece) int {
	views := map[string]bool{}
	for _, ph := range p.Photos {
		if ph.Usable && ph.SameAs == "" {
			views[ph.View] = true
		}
	}
	return len(views)
}

// withoutScale are the usable photos whose sizes in mm are not known.
func (p *Piece) withoutScale() (files []string) {
	for _, ph := range p.Photos {
		if ph.Usable && ph.ScaleMMPerPx == nil {
			files = append(files, ph.File)
		}
	}
	return files
}

// seenElsewhere tells whether a usable photo shows the view.
func seenElsewhere(p *Piece, view string) bool {
	return slices.ContainsFunc(p.Photos, func(ph Photo) bool { return ph.Usable && ph.View == view })
}

func (l Limits) judgeCoverage(p *Piece, again *Repeatability) {
	if p.Coverage == nil || p.Coverage.BareAreaPct == nil {
		p.Reasons = append(p.Reasons, Reason{
			Measure: "coverage_unseen", Outcome: Retake,
			Says: "How much of the head is bare was not measured.",
			Fix:  "Photograph the piece again.",
		})
		return
	}
	v := p.Coverage.BareAreaPct
	file, spot := worstSpot(p)
	says := fmt.Sprintf("%s of the visible head is bare, the limit is %g %%", amountHere, l.BareAreaPct)
	if spot != nil {
		says = fmt.Sprintf("%s shows through %s: %s", capital(spot.Shows), spot.Place, says)
	}
	p.weigh(again, Reason{
		Measure: "bare_area", File: file, Value: v, U: p.Coverage.U, Limit: &l.BareAreaPct, Unit: "%", Says: says + "." + p.lampWords(file, spot),
		Fix: adviceBare(spot),
	})
	file, spot = widest(p, func(ph *Photo) []BareSpot { return ph.BareSpots })
	if spot != nil {
		p.weigh(again, Reason{
			Measure: "bare_spot", File: file, Value: spot.DiameterMM, U: spot.DiameterU, Limit: &l.BareSpotMM, Unit: "mm",
			Says: fmt.Sprintf("A bare spot %s across %s shows %s, the limit is %g mm.%s", amountHere, spot.Place, spot.Shows, l.BareSpotMM, p.lampWords(file, spot)),
			Fix:  adviceBare(spot),
		})
	}
	if file, spot := widest(p, func(ph *Photo) []BareSpot { return ph.DarkSpots }); spot != nil && *spot.DiameterMM >= l.BareSpotMM {
		p.Reasons = append(p.Reasons, Reason{
			Measure: "coverage_unseen", Outcome: Retake, File: file, Value: spot.DiameterMM, U: spot.DiameterU, Limit: &l.BareSpotMM, Unit: "mm",
			Says: fmt.Sprintf("A place %s across %s may be bare %s, the limit is %g mm.", Amount(spot.DiameterMM, spot.DiameterU, "mm"), spot.Place, spot.Shows, l.BareSpotMM),
			Fix:  adviceDark(spot),
		})
	}
	l.judgeDoubtful(p)
	if v := p.Coverage.SmallestVisibleMM; v != nil && *v > l.BareSpotMM {
		p.Reasons = append(p.Reasons, Reason{
			Measure: "coverage_unseen", Outcome: Retake, Value: v, Limit: &l.BareSpotMM, Unit: "mm",
			Says: fmt.Sprintf("A bare spot would have to be %.2g mm across to be seen here, the limit is %g mm: the coat and bare metal look too much alike.", *v, l.BareSpotMM),
			Fix:  "Photograph it closer and in even light of one colour, as in a tent. A coat as grey as lead can't be told from it in any photo: turn the piece under a lamp and look.",
		})
	}
}

// judgeDoubtful holds the area of the places that may be bare, each too narrow for a
// reason of its own, to the limit of the bare area.
func (l Limits) judgeDoubtful(p *Piece) {
	d := p.mostDoubtful(l.BareSpotMM)
	if d.places == 0 || *p.Coverage.BareAreaPct > l.BareAreaPct {
		return
	}
	r := Reason{
		Measure: "coverage_unseen", Outcome: Pass, File: d.file, Value: &d.pct, U: &d.u, Limit: &l.BareAreaPct, Unit: "%",
		CloseCall: math.Abs(d.pct-l.BareAreaPct) <= 2*d.u,
	}
	if d.pct > l.BareAreaPct {
		r.Outcome = Retake
	} else if !r.CloseCall {
		return
	}
	where := fmt.Sprintf("a place %s shows", d.widest.Place)
	if d.places > 1 {
		where = fmt.Sprintf("%d places, the widest %s, show", d.places, d.widest.Place)
	}
	r.Says = fmt.Sprintf("%s of the visible head may be bare, the limit is %g %%: %s %s.", Amount(r.Value, r.U, r.Unit), l.BareAreaPct, where, d.widest.Shows)
	r.Fix = adviceDark(d.widest)
	p.Reasons = append(p.Reasons, r)
}

func (l Limits) judgeRelief(p *Piece, again *Repeatability) {
	r := p.Relief
	if r == nil {
		r = &Relief{}
	}
	if r.LumpHeightMM != nil {
		u := 0.2 * *r.LumpHeightMM
		what := "A lump"
		file, f := p.highest("on the face")
		if f != nil {
			what += " " + f.Place
			if f.U != nil {
				u = *f.U
			}
		}
		p.weigh(again, Reason{
			Measure: "lump_height", File: file, Value: r.LumpHeightMM, U: &u, Limit: &l.LumpHeightMM, Unit: "mm",
			Says: fmt.Sprintf("%s stands about %s high, the limit is %g mm.", what, amountHere, l.LumpHeightMM),
			Fix:  adviceLump,
		})
	}
	l.judgeBumps(p)
	if r.OutlineDeviationMM != nil {
		size := math.Abs(*r.OutlineDeviationMM)
		side := "outside"
		if *r.OutlineDeviationMM < 0 {
			side = "inside"
		}
		says := fmt.Sprintf("The outline runs %s %s of where a smooth head's would", amountHere, side)
		file, f := p.highest("on the outline")
		if f != nil {
			says = fmt.Sprintf("A %s %s stands %s out", f.Kind, f.Place, amountHere)
		}
		p.weigh(again, Reason{
			Measure: "outline_deviation", File: file, Value: &size, U: r.U, Limit: &l.OutlineDeviationMM, Unit: "mm",
			Says: fmt.Sprintf("%s, the limit is %g mm.", says, l.OutlineDeviationMM),
			Fix:  adviceSag,
		})
	}
	if v := r.DoubtfulMM; v != nil && *v > l.OutlineDeviationMM {
		p.Reasons = append(p.Reasons, Reason{
			Measure: "outline_unseen", Outcome: Retake, Value: v, Limit: &l.OutlineDeviationMM, Unit: "mm",
			Says: fmt.Sprintf("The outline stands %.2g mm out beside a part of it that is not seen, the limit is %g mm: a lump, or not the head's edge.", *v, l.OutlineDeviationMM),
			Fix:  "Photograph it with the lamp moved, so that no side of it lies in shadow, or on a plain white or black sheet with the grey card beside it.",
		})
	}
	if r.OutlineSeenPct == nil {
		p.Reasons = append(p.Reasons, Reason{
			Measure: "outline_unseen", Outcome: Retake,
			Says: "The head's outline, where lumps and sags show best, could not be measured in any photo.",
			Fix:  cmp.Or(r.OutlineNote, "Photograph the piece again."),
		})
	}
	l.judgePinholes(p, r, again)
}

// ordinaryPinholeMM is the width of an ordinary pinhole, that of a pin; common
// practice, no source.
const ordinaryPinholeMM = 0.3

// judgeBumps asks for another photo where the widest bump may be higher than the limit.
func (l Limits) judgeBumps(p *Piece) {
	var file string
	var bump *ReliefFault
	for k := range p.Photos {
		for j := range p.Photos[k].DoubtfulRelief {
			if f := &p.Photos[k].DoubtfulRelief[j]; bump == nil || f.DiameterPx > bump.DiameterPx {
				file, bump = p.Photos[k].File, f
			}
		}
	}
	if bump == nil || bump.DiameterMM != nil && mostSteep**bump.DiameterMM < l.LumpHeightMM {
		return
	}
	what := "Something"
	if bump.DiameterMM != nil {
		what = fmt.Sprintf("Something %.1f mm across", *bump.DiameterMM)
	}
	p.Reasons = append(p.Reasons, Reason{
		Measure: "lump_unseen", Outcome: Retake, File: file, Value: bump.DiameterMM, Unit: "mm",
		Says: fmt.Sprintf("%s %s is shaded as a lump would be, and how high it stands can't be told; the limit is %g mm.", what, bump.Place, l.LumpHeightMM),
		Fix:  "Photograph it from the side, so that this place lies on the outline: there its height shows.",
	})
}

// judgePinholes fails too many pinholes. Where ordinary ones could hide it says
// so: the limit is a count, so one that is too narrow to be seen breaks none.
func (l Limits) judgePinholes(p *Piece, r *Relief, again *Repeatability) {
	if r.Pinholes == nil {
		p.Reasons = append(p.Reasons, Reason{
			Measure: "pinholes_unseen", Outcome: Retake,
			Says: "The photos have too few pixels for pinholes to be seen.",
			Fix:  "Go closer or use more zoom.",
		})
		return
	}
	if *r.Pinholes > 0 {
		count, most := float64(*r.Pinholes), float64(l.Pinholes)
		file, where := p.holed()
		p.weigh(again, Reason{
			Measure: "pinholes", File: file, Value: &count, Limit: &most, Unit: "in one view",
			Says: fmt.Sprintf("%d pinholes in one view%s; %d or more fail.", *r.Pinholes, where, l.Pinholes),
			Fix:  adviceHole,
		})
	}
	if v := r.SmallestPinholeMM; v == nil || *v > ordinaryPinholeMM {
		says := "Pinholes could hide in the flakes, the shadows or the noise of these photos."
		if v != nil {
			says = fmt.Sprintf("Pinholes narrower than %.2g mm could hide in the flakes, the shadows or the noise of these photos.", *v)
		}
		p.Reasons = append(p.Reasons, Reason{
			Measure: "pinholes_unseen", Outcome: Pass, Value: v, Unit: "mm", Says: says,
			Fix: "Look at the film under a loupe, or photograph it closer in softer light.",
		})
	}
}

// judgeEye fails a blocked eye. One that no photo shows clearly is said, not
// failed: a look at the piece in hand settles it quicker than a photo.
func (l Limits) judgeEye(p *Piece) {
	if !l.EyeMustBeOpen {
		return
	}
	least := float64(EyeOpenPct)
	r := Reason{Measure: "eye", Limit: &least, Unit: "%", Fix: adviceEye, Outcome: Pass}
	if h := p.EyeHole; h != nil {
		r.Value, r.U, r.CloseCall = &h.OpenPct, &h.U, math.Abs(h.OpenPct-least) <= 2*h.U
		r.Says = fmt.Sprintf(" %s of its hole is open, %g %% must be.", Amount(r.Value, r.U, r.Unit), least)
	}
	switch {
	case p.Eye == EyeBlocked:
		r.Outcome, r.File, r.Says = Fail, p.blockedIn(), "The line-tie eye is blocked with paint."+r.Says
	case p.Eye == EyeUnseen:
		r.Says, r.Fix = "No photo shows clearly whether the line-tie eye is open.", cmp.Or(p.EyeNote, noteNoEye)
	case r.CloseCall || p.EyeHole != nil && p.EyeHole.partly():
		r.Says = "There is paint in the line-tie eye." + r.Says
	default:
		return
	}
	p.Reasons = append(p.Reasons, r)
}

// amountHere stands in what a reason says for its value, whose doubt only weigh
// knows.
const amountHere = "{amount}"

// weigh sets one value against its limit. Within the limit it is a reason only
// when the call is close.
func (p *Piece) weigh(again *Repeatability, r Reason) {
	beyond := *r.Value > *r.Limit
	if r.Measure == "bare_spot" || r.Measure == "pinholes" {
		beyond = *r.Value >= *r.Limit // these limits name what fails, not what passes
	}
	if r.U = again.widened(r.Measure, r.U); r.U != nil {
		r.CloseCall = math.Abs(*r.Value-*r.Limit) <= 2**r.U
	}
	r.Says = strings.Replace(r.Says, amountHere, Amount(r.Value, r.U, r.Unit), 1)
	r.Outcome = Pass
	if beyond {
		r.Outcome = Fail
	}
	if beyond || r.CloseCall {
		p.Reasons = append(p.Reasons, r)
	}
}

func worstSpot(p *Piece) (file string, spot *BareSpot) {
	for k := range p.Photos {
		ph := &p.Photos[k]
		for j := range ph.BareSpots {
			if s := &ph.BareSpots[j]; spot == nil || s.SharePct > spot.SharePct {
				file, spot = ph.File, s
			}
		}
	}
	return file, spot
}

func widest(p *Piece, of func(*Photo) []BareSpot) (file string, spot *BareSpot) {
	for k := range p.Photos {
		ph := &p.Photos[k]
		for j := range of(ph) {
			if s := &of(ph)[j]; s.DiameterMM != nil && (spot == nil || *s.DiameterMM > *spot.DiameterMM) {
				file, spot = ph.File, s
			}
		}
	}
	return file, spot
}

func first(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return list[len(list)-1]
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
