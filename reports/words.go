package reports

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"jigloupe/inspect"
)

// measureWord names what a reason's measure is about.
func measureWord(measure string) string {
	switch measure {
	case "bare_area":
		return "bare area"
	case "bare_spot":
		return "bare spot"
	case "lump_height":
		return "lump"
	case "outline_deviation":
		return "outline"
	case "eye":
		return "blocked eye"
	case "photo":
		return "photo cannot be judged"
	case "pinholes_unseen":
		return "pinholes not seen"
	case "lump_unseen":
		return "may be a lump"
	case "outline_unseen":
		return "outline not seen"
	case "coverage_unseen":
		return "coverage not seen"
	case "cleared":
		return "cleared marks"
	}
	return strings.ReplaceAll(measure, "_", " ")
}

func kindWord(kind string) string { return strings.ReplaceAll(kind, "_", " ") }

// bareWords and reliefWords say of a fault what, where, how big and how sure.
func bareWords(s inspect.BareSpot) string {
	return sentence("bare spot", s.Place, across(s.DiameterMM, s.DiameterU, s.DiameterPx), "shows "+s.Shows, s.Confidence, s.LampMoved)
}

func darkWords(s inspect.BareSpot) string {
	decides := "with only the lamp moved"
	switch s.Shows {
	case inspect.MetalOrGloss:
		decides = "from another side"
	case inspect.MetalOrTint:
		decides = "in light of one colour"
	case inspect.MetalOrCard:
		decides = "on a plain white or black sheet"
	}
	return fmt.Sprintf("may be bare %s, %s, %s: a photo %s would decide.", s.Shows, s.Place, across(s.DiameterMM, s.DiameterU, s.DiameterPx), decides)
}

func reliefWords(f inspect.ReliefFault) string {
	high := ""
	if f.HeightMM != nil {
		high = amount(f.HeightMM, f.U, "mm") + " high"
	}
	return sentence(kindWord(f.Kind), f.Place, across(f.DiameterMM, nil, f.DiameterPx), high, f.Confidence, f.LampMoved)
}

func doubtfulWords(f inspect.ReliefFault) string {
	return fmt.Sprintf("may be a lump, %s, %s: a photo from the side, so that it lies on the outline, would show its height.", f.Place, across(f.DiameterMM, nil, f.DiameterPx))
}

func sentence(what, where, size, more string, confidence float64, lampMoved string) string {
	if where != "" {
		what += " " + where
	}
	if more != "" {
		size += ", " + more
	}
	switch lampMoved {
	case inspect.Gone:
		return fmt.Sprintf("cleared, no fault: what looked like a %s, %s, is gone where only the lamp was moved. It is light: a shadow or a reflection.", what, size)
	case inspect.Stays:
		size += "; it stays when the lamp moves"
	case inspect.Unclear:
		size += "; the photo with the lamp moved can't tell whether it stays"
	}
	return fmt.Sprintf("%s: %s (%s\u00a0%% sure)", what, size, sure(confidence))
}

// sure is a confidence in %: no photo makes anyone 100 % sure.
func sure(confidence float64) string {
	if confidence > 0.99 {
		return "over 99"
	}
	return fmt.Sprintf("%.0f", 100*confidence)
}

// lightWords says what the light of a photo lets one see of the travel.
func lightWords(light string) string {
	switch light {
	case "diffuse":
		return "Diffuse light (tent or open sky): the flakes mirror their surroundings, so hue travels across one photo."
	case "one_lamp":
		return "One lamp: the angle from lamp to camera fixes the hue, and within one photo mostly lightness falls. Move the lamp between photos to see the travel."
	}
	return "The light could not be told. Compare this curve only with curves shot the same way."
}

// cautions are shown in every report. They defer to local codes and to people
// licensed for the work.
var cautions = []string{
	"Lead: the heads are lead under the paint. Wash your hands after handling, keep them away from food, drink and children, and never file or dry-sand lead indoors. Some places forbid lead tackle or limit its sale, its use and how it is thrown away: local rules come first.",
	"Heat: heads, hooks and racks burn skin long after they leave the oven. Use an oven that will never cook food again, keep its temperature well below the melting point of lead, 327 °C (621 °F) when pure and less with antimony in it, and keep to the temperature and time that the powder's maker states.",
	"Fumes: cure with the window open or under an extractor that leads outdoors. Wiring, gas and ducts for that are work for licensed trades under local codes.",
	"Dust: powder in the air can be breathed in, and enough of it can burn. Wear a fitting dust respirator, keep flames and sparks away, and wipe up rather than blow.",
	"A pass says that these photos show no fault beyond the limits. It does not say that the coat is safe to touch or chew, or that it will last.",
}

// noTurning drops the characters that turn the direction of text. One in a
// piece's name would turn what stands after it too: no element keeps an
// unclosed one in.
func noTurning(r rune) rune {
	switch {
	case r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r == 0x200e, r == 0x200f, r == 0x061c:
		return -1
	}
	return r
}

// plain is text without line ends and without characters that turn or control.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return noTurning(r)
	}, s)
}

// amount is inspect.Amount with blanks that do not break.
func amount(value, u *float64, unit string) string {
	return strings.ReplaceAll(inspect.Amount(value, u, unit), " ", "\u00a0")
}

// difference prints the largest difference of colours; one that noise explains
// whole is none, up to the end of its interval.
func difference(value, u *float64, interval *[2]float64) string {
	if value == nil || interval == nil || interval[0] > 0 {
		return amount(value, u, "")
	}
	return fmt.Sprintf("none beyond doubt, at most %.1f", interval[1])
}

// unbroken keeps numbers and their units together where lines break.
func unbroken(s string) string {
	return beforeUnit.ReplaceAllString(strings.ReplaceAll(s, " ± ", "\u00a0±\u00a0"), "$1\u00a0$2")
}

var beforeUnit = regexp.MustCompile(`(\d) (%|mm|px|K|µm)`)

// columnWord names a column of the batch sheet: preheat_s is "preheat, s".
func columnWord(column string) string {
	if name, unit, ok := strings.Cut(column, "_"); ok && (unit == "s" || unit == "min" || unit == "mm" || unit == "g") {
		return name + ", " + unit
	}
	return strings.ReplaceAll(column, "_", " ")
}

// across prints the size of a fault, in px where there is no scale, and about where
// its doubt is not known.
func across(mm, u *float64, px float64) string {
	switch {
	case mm == nil:
		return fmt.Sprintf("%.0f\u00a0px across", px)
	case u == nil:
		return fmt.Sprintf("about %.2g\u00a0mm across", *mm)
	}
	return amount(mm, u, "mm") + " across"
}

// MainReason is the one that decided the verdict, or what makes one look twice
// at a pass: a refused photo, whose side was not judged, before all. What the
// photos of a passing piece could not show is no reason for the pass; it is listed
// with what was not seen.
func MainReason(p *inspect.Piece) (inspect.Reason, bool) {
	for _, r := range p.Reasons {
		if p.Verdict == inspect.Pass && r.Measure == "photo" || r.Outcome == p.Verdict && !(isNote(r) && strings.HasSuffix(r.Measure, "_unseen")) {
			return r, true
		}
	}
	return inspect.Reason{}, false
}

// isNote tells whether a reason says something beside the verdict, for which no measure
// came near its limit.
func isNote(r inspect.Reason) bool { return r.Outcome == inspect.Pass && !r.CloseCall }

func why(p *inspect.Piece) string {
	if r, ok := MainReason(p); ok {
		return r.Says
	}
	if p.Verdict == inspect.Pass {
		return "All that was measured is within its limit."
	}
	return "No reason was given."
}

// newFix is what to try about the reason with that index, "" when a reason
// before it has said the same.
func newFix(p *inspect.Piece, i int) string {
	for _, r := range p.Reasons[:i] {
		if r.Fix == p.Reasons[i].Fix {
			return ""
		}
	}
	return p.Reasons[i].Fix
}

// A named value is a line of a list that page and PDF share.
type named struct{ Name, Value string }

// explainDoubt says how to read a ±.
const explainDoubt = "± is the expanded uncertainty, k = 2: about 19 times in 20 the truth lies within it. A close call is a value whose uncertainty reaches across the limit."

func limitWords(l inspect.Limits) []named {
	eye := "may be blocked"
	if l.EyeMustBeOpen {
		eye = "must be open"
	}
	out := []named{
		{"Bare area", fmt.Sprintf("at most %g\u00a0%% of the visible head", l.BareAreaPct)},
		{"Bare spot", fmt.Sprintf("%g\u00a0mm across fails", l.BareSpotMM)},
		{"Lump height", fmt.Sprintf("at most %g\u00a0mm", l.LumpHeightMM)},
		{"Outline deviation", fmt.Sprintf("at most %g\u00a0mm", l.OutlineDeviationMM)},
		{"Pinholes", fmt.Sprintf("%d in one view fail", l.Pinholes)},
		{"Eye", eye},
	}
	if l.MinViews > 0 {
		out = append(out, named{"Views", fmt.Sprintf("at least %d usable for a pass", l.MinViews)})
	}
	for _, o := range l.Only {
		// what the section changes, in the same words
		own, _ := inspect.Limits{Only: []inspect.Only{o}}.For(map[string]string{"head_style": o.HeadStyle, "powder": o.Powder})
		var words []string
		for k, set := range []bool{o.BareAreaPct != nil, o.BareSpotMM != nil, o.LumpHeightMM != nil, o.OutlineDeviationMM != nil, o.Pinholes != nil, o.EyeMustBeOpen != nil, o.MinViews != nil && *o.MinViews > 0} {
			if set {
				n := limitWords(own)[k]
				words = append(words, strings.ToLower(n.Name[:1])+n.Name[1:]+" "+n.Value)
			}
		}
		if o.MinViews != nil && *o.MinViews == 0 {
			words = append(words, "any number of views")
		}
		out = append(out, named{"For " + o.Whose(), strings.Join(words, "; ")})
	}
	return out
}

// measured lists what was measured on a piece, and what was not.
func measured(p *inspect.Piece) []named {
	c, r, t := inspect.Coverage{}, inspect.Relief{}, inspect.Travel{}
	lumps, pinholes, between, shift := "not measured", "not measured", "", "not measured"
	if p.Coverage != nil {
		c = *p.Coverage
	}
	if p.Relief != nil {
		r = *p.Relief
		if r.Pinholes != nil {
			pinholes = strconv.Itoa(*r.Pinholes)
		}
		if r.SmallestPinholeMM != nil {
			pinholes += fmt.Sprintf(" of %.2g mm or wider", *r.SmallestPinholeMM)
		}
		if r.Lumps != nil {
			lumps = strconv.Itoa(*r.Lumps)
		}
		if r.LumpHeightMM != nil {
			lumps += ", highest " + amount(r.LumpHeightMM, doubtOf(p, *r.LumpHeightMM), "mm")
		}
	}
	if p.Travel != nil {
		t = *p.Travel
		if t.BetweenDeg != nil {
			between = fmt.Sprintf(" from %.0f° to %.0f°", t.BetweenDeg[0], t.BetweenDeg[1])
		}
		if s := t.Shift; s != nil {
			shift = difference(&s.DeltaE00, &s.U, &s.Interval)
		}
	}
	out := []named{
		{"Bare area", amount(c.BareAreaPct, c.U, "%")},
		{"Outline deviation", amount(r.OutlineDeviationMM, r.U, "mm")},
		{"Lumps", lumps},
		{"Pinholes", pinholes},
		{"Orange peel", amount(r.OrangePeelUM, nil, "µm")},
		{"Eye", eyeWords(p.Eye, p.EyeHole)},
		{"Travel, ΔE00", difference(t.DeltaE00Max, t.U, t.Interval) + between},
		{"… without shading", shift},
		{"Hue arc", amount(t.HueArcDeg, t.HueArcU, "°")},
		{"Flop", amount(t.Flop, nil, "")},
	}
	for _, m := range p.LampMoves {
		most := m.ByAngle[0]
		for _, c := range m.ByAngle {
			if c.DeltaE00 > most.DeltaE00 {
				most = c
			}
		}
		out = append(out, named{"Lamp moved, ΔE00", fmt.Sprintf("%s seen at %.0f°, view %s", amount(&most.DeltaE00, &most.U, ""), most.ViewingDeg, m.View)})
	}
	return out
}

// eyeWords says what is seen of an eye, and how much of its hole is open.
func eyeWords(state inspect.EyeState, hole *inspect.EyeHole) string {
	if hole == nil {
		return string(state)
	}
	return fmt.Sprintf("%s, %s of its hole is free of paint", state, amount(&hole.OpenPct, &hole.U, "%"))
}

// doubtOf is the standard uncertainty of the relief fault that is so high.
func doubtOf(p *inspect.Piece, heightMM float64) *float64 {
	for _, ph := range p.Photos {
		for _, f := range ph.ReliefFaults {
			if f.HeightMM != nil && *f.HeightMM == heightMM {
				return f.U
			}
		}
	}
	return nil
}

// unseenIn lists what the photos of a piece could not tell.
func unseenIn(p *inspect.Piece) []string {
	var out []string
	switch p.Seen {
	case "", "all around":
	case "nothing":
		out = append(out, "No photo shows the head well enough.")
	default:
		out = append(out, "Seen of the head: "+p.Seen+"; nothing is known of the rest.")
	}
	if p.Eye == inspect.EyeUnseen {
		out = append(out, strings.TrimSpace("The eye was not seen. "+p.EyeNote))
	}
	switch c := p.Coverage; {
	case c == nil || c.BareAreaPct == nil:
		out = append(out, "Coverage was not measured.")
	case c.SmallestVisibleMM != nil:
		out = append(out, fmt.Sprintf("Bare spots smaller than %.2f\u00a0mm across would not have been found.", *c.SmallestVisibleMM))
	default:
		out = append(out, "Without a scale, sizes are in px and shares in %, and no limit in mm could be checked.")
	}
	if p.Relief != nil && p.Relief.Lumps != nil {
		out = append(out, "Of lumps that face the camera half or more are missed.")
	}
	for _, r := range p.Reasons {
		if r.Measure == "pinholes_unseen" {
			out = append(out, unbroken(r.Says))
		}
	}
	switch r := p.Relief; {
	case r == nil || r.OutlineSeenPct == nil && r.OutlineNote == "":
		out = append(out, "The outline was not measured.")
	case r.OutlineSeenPct == nil:
		out = append(out, "The outline was not measured. "+r.OutlineNote)
	default:
		out = append(out, fmt.Sprintf("Lumps and sags on the outline would have shown along %.0f\u00a0%% of it; the rest is collar, or wire or shadow touches it.", *r.OutlineSeenPct))
	}
	if p.Travel == nil || len(p.Travel.Curve) == 0 {
		out = append(out, "Travel was not measured.")
	}
	return out
}
