package reports

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"jigloupe/inspect/study"
	"jigloupe/reports/history"
)

// TrendPage is how faults of a powder went over time.
func TrendPage(trends []history.Trend) StudyPage {
	p := StudyPage{Kind: "History", Title: "All powders", Method: []string{
		"Shares of faulty pieces are on a p chart, means of a batch on an individuals chart, limits at three standard deviations (NIST/SEMATECH e-Handbook, 6.3); for small batches and rare faults the limits of the p chart are exact ones. A point beyond a limit, or a run on one side of the centre line as rare as eight of eight, says that the process moved; while nothing changes, one batch in about 150 does so by chance."}}
	moved, most := 0, 0
	for _, t := range trends {
		if t.Powder != "" {
			p.Title = t.Powder
		}
		if len(t.Batches) == 0 {
			continue
		}
		most = max(most, len(t.Batches))
		heading := strings.ToUpper(t.Fault[:1]) + t.Fault[1:]
		if t.Share != nil && t.Share.Centre == 0 && (t.Size == nil || t.Size.Centre == 0) {
			p.Sections = append(p.Sections, StudySection{Heading: heading, Says: []string{fmt.Sprintf("None in %s.", counted(len(t.Batches), "batch", "batches"))}})
			continue
		}
		s := StudySection{Heading: heading, Says: t.Says, Table: &StudyTable{Head: []string{"batch", "date", "faulty", strings.TrimSuffix("mean size, "+t.Unit, ", ")}}}
		if t.Share != nil {
			s.Pictures = append(s.Pictures, chartPlot("share of pieces with "+t.Fault, "Control chart of the share of pieces with "+t.Fault, t.Share, 0.2))
			moved += len(t.Share.Signals)
		}
		if t.Size != nil {
			s.Pictures = append(s.Pictures, chartPlot("mean size of "+t.Fault+", "+t.Unit, "Control chart of the mean size of "+t.Fault, t.Size, max(0.2*t.Size.Centre, 0.01)))
			moved += len(t.Size.Signals)
		}
		for i, b := range t.Batches {
			faulty, size := "", ""
			if b.Rate.Of > 0 {
				faulty = fmt.Sprintf("%d of %d", b.Rate.Count, b.Rate.Of)
			}
			if b.Size != nil {
				size = amount(b.Size, nil, "")
			}
			s.Table.Rows = append(s.Table.Rows, []string{fmt.Sprintf("%d %s", i+1, b.Name), b.GradedAt.Format(time.DateOnly), faulty, size})
		}
		p.Sections = append(p.Sections, s)
	}
	switch {
	case len(p.Sections) == 0:
		p.Answer = fmt.Sprintf("The history has no graded pieces of %s.", p.Title)
	case most == 1:
		p.Answer = fmt.Sprintf("%s: one batch cannot say whether the process moves.", p.Title)
	case moved == 0:
		p.Answer = fmt.Sprintf("%s: no sign that the process moved.", p.Title)
	default:
		p.Answer = fmt.Sprintf("%s: %s that the process moved.", p.Title, counted(moved, "sign", "signs"))
	}
	return p
}

// BatchesPage lists the batches of the history.
func BatchesPage(batches []history.Batch) StudyPage {
	p := StudyPage{Kind: "History", Title: "batches", Answer: fmt.Sprintf("The history has %s.", counted(len(batches), "batch", "batches"))}
	if len(batches) == 0 {
		p.Answer = "The history is empty. To put a graded batch into it: jigloupe history add rack7"
		return p
	}
	t := &StudyTable{Head: []string{"number", "date", "batch", "powders", "pieces", "pass", "fail", "retake"}}
	for _, b := range batches {
		t.Rows = append(t.Rows, []string{fmt.Sprint(b.ID), b.GradedAt.Format(time.DateOnly), b.Name, strings.Join(b.Powders, ", "),
			fmt.Sprint(b.Pieces), fmt.Sprint(b.Pass), fmt.Sprint(b.Fail), fmt.Sprint(b.Retake)})
	}
	p.Sections = []StudySection{{Heading: "Batches", Table: t}}
	return p
}

// FoundPage lists pieces of the history.
func FoundPage(found []history.Found) StudyPage {
	p := StudyPage{Kind: "History", Title: "pieces", Answer: fmt.Sprintf("%s found.", counted(len(found), "piece", "pieces"))}
	if len(found) == 0 {
		return p
	}
	t := &StudyTable{Head: []string{"piece", "verdict", "date", "batch", "treatment"}}
	for _, f := range found {
		t.Rows = append(t.Rows, []string{fmt.Sprintf("%d/%s", f.BatchID, f.Piece), string(f.Verdict), f.GradedAt.Format(time.DateOnly), f.Batch, sheetWords(f.Sheet)})
	}
	p.Sections = []StudySection{{Heading: "Pieces", Table: t}}
	return p
}

// MatchPage lists the pieces nearest to a wanted colour, with how they were made.
func MatchPage(like string, matches []study.Match) StudyPage {
	p := StudyPage{Kind: "History", Title: "nearest to " + like}
	if len(matches) == 0 {
		p.Answer = "Nothing to compare: no piece in the history has a curve taken in the same kind of light over at least half of the viewing angles."
		return p
	}
	m := matches[0]
	p.Answer = fmt.Sprintf("Nearest to %s: piece %s of %s, ΔE00 %.1f over the curve, at most %.1f (at %.0f°).", like, m.Piece, m.Batch, m.DeltaE00, m.Worst, m.WorstDeg)
	t := &StudyTable{Head: []string{"piece", "ΔE00", "at most", "angles", "how it was made"}}
	for _, m := range matches {
		t.Rows = append(t.Rows, []string{m.Batch + " " + m.Piece, fmt.Sprintf("%.1f", m.DeltaE00), fmt.Sprintf("%.1f at %.0f°", m.Worst, m.WorstDeg), fmt.Sprint(m.Angles), sheetWords(m.Sheet)})
	}
	p.Sections = []StudySection{{Heading: "Nearest", Table: t}}
	return p
}

// sheetWords is a row of the batch sheet in a line.
func sheetWords(sheet map[string]string) string {
	var words []string
	for column, value := range sheet {
		if value != "" && column != "batch" {
			words = append(words, column+": "+value)
		}
	}
	slices.Sort(words)
	return strings.Join(words, ", ")
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
