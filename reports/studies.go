package reports

import (
	"fmt"
	"html/template"
	"strings"

	"jigloupe/inspect/study"
)

// shareMethod and colourMethod explain the intervals that several studies show.
const (
	shareMethod  = "Shares of pieces have Wilson's 95 % interval; two shares are compared by Fisher's exact test, the difference with Newcombe's interval. P values are raised for the number of comparisons by Holm's rule."
	colourMethod = "The piece is the sample, however many photos it has. ΔE00 is the CIEDE2000 difference of the group means, over the whole curve as the root mean square over the viewing angles weighted by the surface seen at each. Noise always adds to a distance, so the part that the scatter of the pieces alone would give is taken out of the value. The 95 % interval is Welch's along the line between the means, widened while the direction of that line is uncertain; that a difference is real is judged by the squared distance over its scatter with Box's degrees of freedom. No visible difference means that the one-sided 95 % bound lies below what a person notices. Intervals at single angles are for looking, not for deciding: of many, some miss."
)

// ComparePage is a comparison of groups.
func ComparePage(c study.Comparison) StudyPage {
	p := StudyPage{Kind: "Comparison of painted pieces", Title: "by " + c.By, Answer: compareAnswer(c), Cautions: c.Cautions,
		Method: []string{colourMethod, shareMethod, fmt.Sprintf("A ΔE00 of %.1f is taken as the smallest difference that a person sees between two pieces side by side, and fault rates within %.0f points as alike: common practice, no source.", c.Noticeable, 100*study.AlikeRates)}}
	colour := StudySection{Heading: "Colour", Pictures: []template.HTML{groupSwatches(c.Groups)}}
	for _, pair := range c.Colour {
		colour.Says = append(colour.Says, pair.Says)
		colour.Pictures = append(colour.Pictures, anglePicture(pair, c.Noticeable))
	}
	if len(c.Colour) == 0 {
		colour = StudySection{Heading: "Colour", Says: []string{"No two groups have a measured colour, so nothing can be said about it."}}
	}
	p.Sections = append(p.Sections, colour)
	for _, f := range study.Faults {
		s := StudySection{Heading: strings.ToUpper(f.Name[:1]) + f.Name[1:]}
		var rows []shareRow
		for _, g := range c.Groups {
			rows = append(rows, shareRow{g.Name, g.Faults[f.Name]})
		}
		var unsettled []study.FaultPair
		for _, pair := range c.Faults {
			switch {
			case pair.Fault != f.Name:
			case pair.Verdict == study.TooFew:
				unsettled = append(unsettled, pair)
			default:
				s.Says = append(s.Says, pair.Says)
			}
		}
		switch {
		case len(unsettled) == 1:
			s.Says = append(s.Says, unsettled[0].Says)
		case len(unsettled) > 1:
			s.Says = append(s.Says, manyTooFew(unsettled))
		case s.Says == nil:
			continue // judged in fewer than two groups
		}
		s.Table = rateTable(c.By, rows)
		s.Pictures = []template.HTML{sharePlot("pieces with "+f.Name, "Share of pieces with "+f.Name+" in each group", rows)}
		p.Sections = append(p.Sections, s)
	}
	return p
}

// compareAnswer is the comparison in one sentence.
func compareAnswer(c study.Comparison) string {
	count := map[study.Verdict]int{}
	for _, pair := range c.Colour {
		count[pair.Verdict]++
	}
	faults := 0
	for _, pair := range c.Faults {
		if pair.Verdict == study.Different {
			faults++
		}
	}
	var parts []string
	switch {
	case len(c.Colour) == 0:
		parts = append(parts, "no colour to compare")
	case count[study.Different] > 0 && len(c.Colour) > 1:
		parts = append(parts, fmt.Sprintf("the colour differs in %d of %d pairs", count[study.Different], len(c.Colour)))
	case count[study.Different] > 0:
		parts = append(parts, "the colour differs")
	case count[study.TooFew] > 0:
		parts = append(parts, "too few pieces to tell the colours apart or alike")
	default:
		parts = append(parts, "no visible difference in colour")
	}
	switch {
	case faults > 0:
		parts = append(parts, fmt.Sprintf("%d of %d comparisons of faults show a difference", faults, len(c.Faults)))
	case len(c.Faults) > 0:
		parts = append(parts, "no difference in faults shown")
	}
	text := "By " + c.By + ": " + strings.Join(parts, "; ") + "."
	return text
}

// manyTooFew puts pairs that cannot be told apart or alike into one sentence.
func manyTooFew(pairs []study.FaultPair) string {
	var names []string
	widest, most := 0.0, 0
	for _, p := range pairs {
		names = append(names, p.A+" and "+p.B)
		widest = max(widest, -p.Difference.Lo, p.Difference.Hi)
		most = max(most, *p.Needed)
	}
	return fmt.Sprintf("Too few pieces to tell %s apart or alike: differences of up to %.0f points are possible; about %d pieces of each would settle it if these shares hold.",
		strings.Join(names, ", "), 100*widest, most)
}

func rateTable(column string, rows []shareRow) *StudyTable {
	t := &StudyTable{Head: []string{column, "faulty", "95 % interval"}}
	for _, r := range rows {
		if r.rate.Of == 0 {
			t.Rows = append(t.Rows, []string{r.name, "not judged", ""})
			continue
		}
		t.Rows = append(t.Rows, []string{r.name, fmt.Sprintf("%d of %d", r.rate.Count, r.rate.Of), fmt.Sprintf("%.0f to %.0f %%", 100*r.rate.In.Lo, 100*r.rate.In.Hi)})
	}
	return t
}

func anglePicture(pair study.ColourPair, noticeable float64) template.HTML {
	var spans []span
	for _, a := range pair.ByAngle {
		spans = append(spans, span{a.ViewingDeg, a.DeltaE00, a.In})
	}
	title := fmt.Sprintf("ΔE00, %s against %s", cut(pair.B, 14), cut(pair.A, 14))
	return spanPlot(title, title+" by viewing angle, with 95 % intervals; dashed: what a person notices", spans, noticeable, 2)
}

// BasePage is what a base coat changes under each powder.
func BasePage(studies []study.BaseStudy, noticeable float64) StudyPage {
	p := StudyPage{Kind: "Base coat study", Title: studies[0].Powder, Method: []string{
		fmt.Sprintf("The contrast ratio is the luminous reflectance Y over black divided by that over white at the same viewing angle; from %.2f a coat counts as hiding (ISO 6504-3, ASTM D2805). Its 95 %% interval is Welch's for the logarithm, the pieces being the sample. The standards measure flat drawdowns of known thickness with an instrument: on small curved pieces in a photo the ratio of the two groups is what carries over, as light and geometry are the same for both.", study.FullHiding),
		"How much thicker a coat would have to be is reckoned by the theory of Kubelka and Munk for plain pigments, with the base coats taken as 80 % and 0 % reflecting. Flakes obey it roughly.",
		colourMethod,
		fmt.Sprintf("The advice goes by what one sees: a base counts only when it changes the colour by more than ΔE00 %.1f. A black base is advised where colour travels further over black than over white, lightness left out.", noticeable)}}
	if len(studies) > 1 {
		p.Title = fmt.Sprintf("%d powders", len(studies))
	}
	for i, s := range studies {
		answer := fmt.Sprintf("%s: %s.", s.Powder, s.Advice)
		if s.Advice != study.PaintFirst && !s.Shown {
			answer = fmt.Sprintf("%s: probably %s.", s.Powder, s.Advice)
		}
		section := StudySection{Heading: s.Powder, Says: s.Why, Pictures: []template.HTML{groupSwatches(s.Groups)}}
		if i == 0 {
			p.Answer = answer
		} else {
			p.Says = append(p.Says, answer)
		}
		if len(s.ByAngle) > 0 {
			var spans []span
			table := &StudyTable{Head: []string{"viewing angle", "contrast ratio", "95 % interval"}}
			for _, a := range s.ByAngle {
				spans = append(spans, span{a.ViewingDeg, a.Ratio, a.In})
				in := "needs 2 pieces over each base"
				if a.In != nil {
					in = fmt.Sprintf("%.2f to %.2f", a.In.Lo, a.In.Hi)
				}
				table.Rows = append(table.Rows, []string{fmt.Sprintf("%.0f°", a.ViewingDeg), fmt.Sprintf("%.2f", a.Ratio), in})
			}
			section.Table = table
			section.Pictures = append(section.Pictures, spanPlot("contrast ratio, black over white", "Contrast ratio by viewing angle, with 95 % intervals; dashed: full hiding", spans, study.FullHiding, 0.1))
		}
		for _, pair := range s.Colour {
			section.Says = append(section.Says, pair.Says)
			section.Pictures = append(section.Pictures, anglePicture(pair, noticeable))
		}
		p.Sections = append(p.Sections, section)
		p.Cautions = append(p.Cautions, s.Cautions...)
	}
	return p
}

// ProcessPage is which treatment goes with which fault.
func ProcessPage(s study.ProcessStudy) StudyPage {
	p := StudyPage{Kind: "Process study", Title: fmt.Sprintf("%d pieces", s.Pieces), Answer: processAnswer(s), Says: s.Says, Cautions: s.Cautions, Method: []string{
		"Each treatment that varies is set against each fault by an exact test: all ways in which the same results could have been dealt to the same treatments are counted, and P is the share of them at least as one-sided as what was seen. Amounts such as dips or seconds are tested for a steady rise or fall, words for any difference; where a fault's size was measured, sizes are ranked, else pieces are faulty or not.",
		"P is then raised for the number of links looked at (Holm), and links at or below 0.05 are called found. A link found is tested again among pieces alike in whatever else changed with it.",
		"Going together is not yet causing: only a planned set of pieces, painted in shuffled order, can show a cause.",
		shareMethod}}
	if len(s.MixedUp) > 0 {
		p.Sections = append(p.Sections, StudySection{Heading: "What these pieces cannot tell apart", Says: s.MixedUp})
	}
	shown := 0
	links := StudySection{Heading: "Treatments and faults, likeliest first", Table: &StudyTable{Head: []string{"treatment", "fault", "faulty (middle size)", "P", "P, all links allowed for"}}}
	for _, l := range s.Links {
		var rates []string
		var rows []shareRow
		for _, r := range l.Levels {
			text := fmt.Sprintf("%s: %d/%d", r.Level, r.Rate.Count, r.Rate.Of)
			if r.Median != nil {
				text += fmt.Sprintf(" (%s)", amount(r.Median, nil, ""))
			}
			rates = append(rates, text)
			rows = append(rows, shareRow{r.Level, r.Rate})
		}
		links.Table.Rows = append(links.Table.Rows, []string{l.Treatment, l.Fault, strings.Join(rates, ", "), chance(l.Test.P), chance(l.Adjusted)})
		if shown < 4 {
			links.Pictures = append(links.Pictures, sharePlot(fmt.Sprintf("pieces with %s by %s", l.Fault, cut(l.Treatment, 16)),
				fmt.Sprintf("Share of pieces with %s at each level of %s", l.Fault, l.Treatment), rows))
			shown++
		}
	}
	if len(s.Links) > 0 {
		p.Sections = append(p.Sections, links)
	}
	if s.Next != nil {
		p.Sections = append(p.Sections, planSection(*s.Next))
	}
	return p
}

// processAnswer is the study in one sentence.
func processAnswer(s study.ProcessStudy) string {
	var faults []string
	treatments := map[string][]string{}
	for _, l := range s.Links {
		if !l.Found {
			continue
		}
		if treatments[l.Fault] == nil {
			faults = append(faults, l.Fault)
		}
		treatments[l.Fault] = append(treatments[l.Fault], l.Treatment)
	}
	if len(faults) == 0 {
		return "No fault is shown to go with a treatment."
	}
	var parts []string
	for _, f := range faults {
		parts = append(parts, f+" go with "+strings.Join(treatments[f], " or "))
	}
	text := strings.Join(parts, "; ")
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// chance prints a P value.
func chance(p float64) string {
	if p < 0.001 {
		return "< 0.001"
	}
	return fmt.Sprintf("%.3f", p)
}

// planSection is the set of pieces to paint next.
func planSection(plan study.Plan) StudySection {
	var names []string
	for _, f := range plan.Factors {
		names = append(names, fmt.Sprintf("%s (%s)", f.Column, strings.Join(f.Levels, ", ")))
	}
	records := plan.Records()
	s := StudySection{Heading: "The next pieces to paint", Table: &StudyTable{records[0], records[1:]},
		Says: []string{fmt.Sprintf("%d pieces that vary %s, in this shuffled order.", len(plan.Rows), strings.Join(names, " and "))}}
	if plan.Balanced {
		s.Says = append(s.Says, "Every level of one treatment meets every level of the others equally often, so that none can be mistaken for another.")
	} else {
		s.Says = append(s.Says, "So many levels cannot be balanced in so few pieces; this is as near as it gets.")
	}
	s.Says = append(s.Says, fmt.Sprintf("A fault that 1 of 10 pieces have at one level of a treatment and 8 of 10 at another would be found in %.0f of 100 such sets; lesser differences need more pieces.", 100*plan.Power))
	return s
}

// LotPage is a sampling plan and what was found by it.
func LotPage(v study.LotVerdict) StudyPage {
	switched := "normal"
	if v.Plan.Tightened {
		switched = "tightened"
	}
	return StudyPage{Kind: "Acceptance sampling", Title: fmt.Sprintf("lot of %d pieces", v.Plan.LotSize), Answer: v.Says[0], Says: v.Says[1:],
		Sections: []StudySection{{Heading: "The plan", Pictures: []template.HTML{passPlot(v)}, Table: &StudyTable{
			Head: []string{"code letter", "inspection", "level", "AQL", "pieces", "pass with at most", "refuse from"},
			Rows: [][]string{{v.Plan.Letter, switched, v.Plan.Level, fmt.Sprintf("%g %%", v.Plan.AQL), fmt.Sprint(v.Plan.N), fmt.Sprint(v.Plan.Accept), fmt.Sprint(v.Plan.Accept + 1)}}}}},
		Method: []string{
			"The plan is the single plan of ISO 2859-1 (ANSI/ASQ Z1.4) for the lot's size, inspection level and acceptance quality limit (AQL), arrows followed; where it asks for as many pieces as there are, all are inspected. Draw the sample at random from the whole lot, not from the top of the box.",
			"Change to tightened inspection when two of five lots in a row were refused, and back after five in a row were accepted.",
			fmt.Sprintf("The chances are for a lot of exactly this size. For a process that runs on, 95 of 100 lots pass while %.2g %% of its pieces are faulty, and 10 of 100 when %.2g %% are.", 100*v.Plan.QualityPassed(0.95), 100*v.Plan.QualityPassed(0.10))}}
}
