package study

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"jigloupe/inspect"
)

// A ProcessStudy asks which treatment goes with which fault.
type ProcessStudy struct {
	Pieces   int      `json:"pieces"`
	Links    []Link   `json:"links"` // likeliest first
	MixedUp  []string `json:"mixed_up"`
	Says     []string `json:"says"`
	Cautions []string `json:"cautions"`
	Next     *Plan    `json:"next"` // pieces to paint that would tell; nil when nothing varies
}

// A Link is one treatment set against one fault.
type Link struct {
	Treatment string `json:"treatment"`
	Fault     string `json:"fault"`
	// Ordered treatments are amounts, tested for a rise or fall; others for any difference.
	Ordered bool `json:"ordered"`
	// BySize: tested on the fault's size; else on faulty or not.
	BySize bool          `json:"by_size"`
	Levels []LevelResult `json:"levels"`
	// Worse is the chance that of two pieces the one with more of the treatment
	// has more of the fault; 0.5 is no tendency. Nil for treatments without order.
	Worse    *float64 `json:"worse_with_more"`
	Test     Test     `json:"test"`
	Adjusted float64  `json:"p_adjusted"` // for all links tested
	// Instead are treatments that could be the cause as well: they change
	// together with this one, and among pieces alike in them the link is not found.
	Instead []string `json:"could_be_instead"`
	Found   bool     `json:"found"`
}

// LevelResult is a fault at one level of a treatment.
type LevelResult struct {
	Level string `json:"level"`
	Rate  Rate   `json:"rate"`
	// Median is the middle size, in the fault's unit; nil when the sizes were not used.
	Median *float64 `json:"median_size"`
}

// Process sets every treatment that varies against every fault. With few
// pieces it is honest in two ways: P values are exact and adjusted for the
// number of links looked at, and a link found is tested again among pieces
// alike in whatever else changed with it.
func Process(pieces []inspect.Piece) (ProcessStudy, error) {
	columns := treatments(pieces)
	if len(columns) == 0 {
		return ProcessStudy{}, fmt.Errorf("all pieces had the same treatment, so none can be set against the faults: add columns such as method, dips, preheat_s or base to the batch sheet and vary one")
	}
	s := ProcessStudy{Pieces: len(pieces), Links: []Link{}, MixedUp: []string{}, Says: []string{}, Cautions: []string{}}
	var ps []float64
	for _, column := range columns {
		for _, fault := range Faults {
			if link, ok := newLink(pieces, column, fault); ok {
				s.Links = append(s.Links, link)
				ps = append(ps, link.Test.P)
			}
		}
	}
	for i, adjusted := range holm(ps) {
		s.Links[i].Adjusted, s.Links[i].Found = adjusted, adjusted <= 1-Confidence
		if s.Links[i].Found {
			s.Links[i].Instead = instead(pieces, columns, s.Links[i])
		}
	}
	slices.SortStableFunc(s.Links, func(a, b Link) int { return cmp.Compare(a.Test.P, b.Test.P) })
	var always, often []string
	for i, a := range columns {
		for _, b := range columns[i+1:] {
			switch v := togetherness(pieces, a, b); {
			case v >= inseparable:
				always = append(always, a+" and "+b)
			case v >= entangled:
				often = append(often, a+" and "+b)
			}
		}
	}
	if len(always) > 0 {
		s.MixedUp = append(s.MixedUp, "These always change together, so that nobody can say which of them does what: "+strings.Join(always, "; ")+".")
	}
	if len(often) > 0 {
		s.MixedUp = append(s.MixedUp, "These often change together, so that it is hard to say which of them does what: "+strings.Join(often, "; ")+".")
	}
	s.say()
	s.plan(pieces, columns)
	return s, nil
}

// newLink tests one fault against one column. Not ok when nothing varies.
func newLink(pieces []inspect.Piece, column string, fault Fault) (Link, bool) {
	judged, values, bySize := valuesOf(pieces, fault)
	if len(judged) == 0 || slices.Min(values) == slices.Max(values) {
		return Link{}, false
	}
	groups, err := groupBy(judged, column)
	if err != nil {
		return Link{}, false // every judged piece is at one level
	}
	link := Link{Treatment: column, Fault: fault.Name, BySize: bySize, Ordered: true, Instead: []string{}}
	for _, g := range groups {
		result := LevelResult{Level: g.name, Rate: fault.rate(g.pieces)}
		if bySize {
			_, sizes, _ := valuesOf(g.pieces, fault)
			middle := median(sizes)
			result.Median = &middle
		}
		link.Levels = append(link.Levels, result)
		_, ok := dose(g.name)
		link.Ordered = link.Ordered && ok
	}
	link.Test = link.test(judged, values, nil)
	if link.Ordered {
		worse := concordance(doses(judged, column), values)
		link.Worse = &worse
	}
	return link, true
}

// valuesOf are the pieces whose fault could be judged, and its size; where some
// size is unknown, 1 for faulty and 0 for not.
func valuesOf(pieces []inspect.Piece, fault Fault) (judged []inspect.Piece, values []float64, bySize bool) {
	bySize = fault.Unit != ""
	var yesNo []float64
	for _, p := range pieces {
		faulty, ok := fault.Of(p)
		if !ok {
			continue
		}
		judged = append(judged, p)
		size := fault.Size(p)
		if size == nil {
			bySize = false
		} else {
			values = append(values, *size)
		}
		if faulty {
			yesNo = append(yesNo, 1)
		} else {
			yesNo = append(yesNo, 0)
		}
	}
	if !bySize {
		return judged, yesNo, false
	}
	return judged, values, true
}

// test is the link's exact test, pieces trading places within strata only.
func (l Link) test(judged []inspect.Piece, values []float64, strata []string) Test {
	if l.Ordered {
		return Trend(doses(judged, l.Treatment), ranks(values), strata)
	}
	names := make([]string, len(judged))
	for i, p := range judged {
		names[i] = level(p, l.Treatment)
	}
	return Unordered(names, ranks(values), strata)
}

func doses(pieces []inspect.Piece, column string) []float64 {
	out := make([]float64, len(pieces))
	for i, p := range pieces {
		out[i], _ = dose(level(p, column))
	}
	return out
}

// instead lists the columns that change together with a found link's treatment
// and that could be its cause: among pieces alike in them the link is gone, or
// there are no such pieces that differ in the treatment.
func instead(pieces []inspect.Piece, columns []string, l Link) []string {
	fault := Faults[slices.IndexFunc(Faults, func(f Fault) bool { return f.Name == l.Fault })]
	judged, values, _ := valuesOf(pieces, fault)
	found := []string{}
	for _, other := range columns {
		if other == l.Treatment || togetherness(judged, l.Treatment, other) < entangled {
			continue
		}
		if within := l.test(judged, values, coarse(judged, other)); within.P > 1-Confidence {
			found = append(found, other)
		}
	}
	return found
}

// say puts what was found, and what was not, into words.
func (s *ProcessStudy) say() {
	least := 1.0
	for _, l := range s.Links {
		least = math.Min(least, l.Test.Least*float64(len(s.Links)))
		if !l.Found {
			continue
		}
		text := fmt.Sprintf("%s go with %s (P %s after allowing for %d comparisons): %s.", capital(l.Fault), l.Treatment, chance(l.Adjusted), len(s.Links), l.rates())
		if l.Worse != nil {
			way, share := "more", *l.Worse
			if share < 0.5 {
				way, share = "less", 1-share
			}
			text += fmt.Sprintf(" Of two pieces, the one with %s %s is the worse in %.0f of 100 pairs.", way, l.Treatment, 100*share)
		}
		if len(l.Instead) > 0 {
			text += fmt.Sprintf(" But %s changed along with it and could be the cause instead.", strings.Join(l.Instead, " or "))
		}
		s.Says = append(s.Says, text)
		if l.Treatment == "preheat_s" || strings.Contains(l.Treatment, "heat") || strings.Contains(l.Treatment, "cure") || strings.Contains(l.Treatment, "oven") {
			s.Cautions = heatCautions
		}
	}
	switch {
	case len(s.Links) == 0:
		s.Says = append(s.Says, "No fault differs between these pieces, so no treatment can be set against one.")
	case len(s.Says) == 0 && least > 1-Confidence:
		s.Says = append(s.Says, fmt.Sprintf("Nothing is found, and with %d pieces and %d comparisons nothing could have been: even the clearest split would not be beyond chance.", s.Pieces, len(s.Links)))
	case len(s.Says) == 0:
		l := s.Links[0]
		s.Says = append(s.Says, fmt.Sprintf("No fault goes with a treatment beyond what chance gives. The nearest to it: %s with %s (%s; P %s, after allowing for %d comparisons P %s).",
			l.Fault, l.Treatment, l.rates(), chance(l.Test.P), len(s.Links), chance(l.Adjusted)))
	}
}

// rates lists the fault's rate at each level.
func (l Link) rates() string {
	var parts []string
	for _, r := range l.Levels {
		parts = append(parts, fmt.Sprintf("%d of %d at %s", r.Rate.Count, r.Rate.Of, r.Level))
	}
	return strings.Join(parts, ", ")
}

// chance prints a P value.
func chance(p float64) string {
	if p < 0.001 {
		return "below 0.001"
	}
	return fmt.Sprintf("= %.3f", p)
}

func median(values []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// heatCautions go with any advice about heat. Common practice, no source but
// the melting point of lead, 327.5 °C.
var heatCautions = []string{
	"Lead melts at 327 °C and its alloys well below: heat in small steps, never with an open flame under painted lead, and let pieces cool on a rack before touching them.",
	"Heat and cure with the window open and never in an oven that food goes into: curing powder gives off fumes, and lead dust stays behind. Wash your hands before eating.",
	"Keep flames and sparks away from a fluid bed: powder in the air burns like flour dust.",
}

// plan proposes the next pieces: the treatments of links found or nearly so and
// what is mixed up with them; all treatments when there is no such link.
func (s *ProcessStudy) plan(pieces []inspect.Piece, columns []string) {
	const worthTrying = 0.2 // unadjusted P; a plan may follow a hint, a verdict may not
	wanted := map[string]bool{}
	for _, l := range s.Links {
		if l.Test.P > worthTrying {
			continue
		}
		for _, other := range columns {
			if other == l.Treatment || togetherness(pieces, l.Treatment, other) >= entangled {
				wanted[other] = true
			}
		}
	}
	if len(wanted) == 0 {
		for _, c := range columns {
			wanted[c] = true
		}
	}
	var factors []Factor
	for _, column := range slices.Sorted(maps.Keys(wanted)) {
		used := map[string]int{}
		ordered := true
		for _, p := range pieces {
			used[level(p, column)]++
			_, ok := dose(level(p, column))
			ordered = ordered && ok
		}
		delete(used, "(not stated)")
		levels := factorOf(sortLevels(slices.Collect(maps.Keys(used))), used, ordered)
		if len(levels) > 1 && len(factors) < 4 { // more than four treatments make no small plan
			factors = append(factors, Factor{column, levels})
		}
	}
	if next, err := NewPlan(factors); err == nil {
		s.Next = &next
	}
	for _, f := range factors {
		if strings.Contains(f.Column, "heat") {
			s.Cautions = heatCautions
		}
	}
}
