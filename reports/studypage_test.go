package reports

import (
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
	"jigloupe/reports/history"
)

func TestStudyText(t *testing.T) {
	p := StudyPage{Answer: "Nine ducks swam by the old mill.", Says: []string{"It rained."}, Cautions: []string{"Mind the\x1b[31m step."},
		Sections: []StudySection{{Heading: "Ducks", Says: []string{"They were all of them brown."}, Table: &StudyTable{Head: []string{"duck", "ΔE00"}, Rows: [][]string{{"first\n", "1.2"}, {"ü", "10"}}}}}}
	var b strings.Builder
	if err := p.WriteText(&b, 20); err != nil {
		t.Fatal(err)
	}
	want := `Nine ducks swam by
the old mill.
It rained.

Ducks
  They were all of
  them brown.
  duck    ΔE00
  first   1.2
  ü       10

Mind this
  Mind the [31m
  step.
`
	if b.String() != want {
		t.Errorf("text\n%q\nwant\n%q", b.String(), want)
	}
}

// studied are pieces of a powder with a hostile name over three bases, bare
// spots shrinking with dips.
func studied() []inspect.Piece {
	var pieces []inspect.Piece
	for i := range 12 {
		base, dips := []string{"none", "white", "black"}[i%3], 1+i/3%2
		bare, deviation, travel := 1.5/float64(dips*dips)+0.01*float64(i), 0.02*float64(i%5), 12.0
		p := inspect.Piece{Piece: fmt.Sprint("A", i), Verdict: inspect.Pass, Eye: inspect.EyeOpen,
			Sheet:    map[string]string{"powder": hostile, "base": base, "dips": fmt.Sprint(dips), "preheat_s": fmt.Sprint(6 + 2*dips)},
			Coverage: &inspect.Coverage{BareAreaPct: &bare}, Relief: &inspect.Relief{OutlineDeviationMM: &deviation, Lumps: new(int), Pinholes: new(int)},
			Travel: &inspect.Travel{Light: "diffuse", DeltaE00Max: &travel}}
		if bare > 0.5 {
			p.Verdict, p.Reasons = inspect.Fail, []inspect.Reason{{Measure: "bare_area", Outcome: inspect.Fail}}
		}
		for deg := 5.0; deg < 80; deg += 10 {
			l := 60 - deg/3 + 0.2*float64(i%4)
			if base == "white" {
				l += 5
			}
			p.Travel.Curve = append(p.Travel.Curve, inspect.TravelBin{ViewingDeg: deg, L: l, A: -10, B: 20 - deg/10, Px: 500})
		}
		pieces = append(pieces, p)
	}
	return pieces
}

func TestStudyPages(t *testing.T) {
	pieces := studied()
	comparison, err := study.Compare(pieces, "base", study.Noticeable)
	if err != nil {
		t.Fatal(err)
	}
	alone, err := study.Compare([]inspect.Piece{pieces[0], {Piece: "B", Sheet: map[string]string{"base": "white"}, Verdict: inspect.Retake}}, "base", study.Noticeable)
	if err != nil {
		t.Fatal(err)
	}
	bases, err := study.Bases(pieces, study.Noticeable)
	if err != nil {
		t.Fatal(err)
	}
	process, err := study.Process(pieces)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := study.NewSampling(50, 4, "II", false)
	if err != nil {
		t.Fatal(err)
	}
	lot, err := study.JudgeLot(plan, study.Oversight{}, 13, 0, 1)
	if err != nil {
		t.Fatal(err)
	}
	counts, of, sizes := make([]int, 15), make([]int, 15), make([]float64, 15)
	trend := history.Trend{Powder: hostile, Fault: "bare spots", Unit: "% of the head", Says: []string{"The process moved."}}
	for i := range counts {
		of[i], sizes[i] = 9, 0.2+0.01*float64(i%3)
		if i == 14 {
			counts[i], sizes[i] = 7, 2
		}
		trend.Batches = append(trend.Batches, history.TrendBatch{ID: int64(i), Name: hostile, GradedAt: time.Date(2026, 1, 1+i, 0, 0, 0, 0, time.UTC), Rate: study.NewRate(counts[i], 9), Size: &sizes[i]})
	}
	share, size := study.PChart(counts, of), study.Individuals(sizes)
	trend.Share, trend.Size = &share, &size
	batch := history.Batch{ID: 3, Name: hostile, Powders: []string{hostile}, Pieces: 9, Pass: 7, Fail: 2}
	found := history.Found{BatchID: 3, Batch: "rack", Piece: hostile, Verdict: inspect.Pass, Sheet: map[string]string{"powder": "moss", "note": ""}}
	match := study.Match{Batch: "rack", Piece: "A01", DeltaE00: 1.26, Worst: 3, WorstDeg: 65, Angles: 8, Sheet: found.Sheet}
	for name, c := range map[string]struct {
		page     StudyPage
		answer   string // what the answer must say
		pictures int
		also     string // and the page somewhere
	}{
		"compare":    {ComparePage(comparison), "the colour differs in 2 of 3 pairs", 1 + 3 + 5, "2 of 4"},
		"nothing":    {ComparePage(alone), "no colour to compare", 0, "No two groups"},
		"base":       {BasePage(bases, study.Noticeable), "white base", 1 + 1 + 3, "0.98"},
		"process":    {ProcessPage(process), "Bare spots go with dips or preheat_s", 4, "The next pieces to paint"},
		"lot":        {LotPage(lot), "Accept the lot: 0 of 13", 1, "at most"},
		"trend":      {TrendPage([]history.Trend{trend}), "4 signs that the process moved", 2, "7 of 9"},
		"none ever":  {TrendPage([]history.Trend{{Fault: "lumps", Batches: trend.Batches, Share: &study.Chart{}}}), "no sign that the process moved", 0, "None in 15 batches."},
		"no trend":   {TrendPage([]history.Trend{{Fault: "lumps"}}), "no graded pieces", 0, "How to read this"},
		"batches":    {BatchesPage([]history.Batch{batch}), "1 batch.", 0, "retake"},
		"no batches": {BatchesPage(nil), "The history is empty.", 0, ""},
		"found":      {FoundPage([]history.Found{found}), "1 piece found", 0, "powder: moss"},
		"match":      {MatchPage("3/A02", []study.Match{match}), "piece A01 of rack, ΔE00 1.3", 0, "3.0 at 65°"},
		"no match":   {MatchPage("3/A02", nil), "Nothing to compare", 0, ""},
	} {
		path := filepath.Join(t.TempDir(), "study.html")
		if err := c.page.WriteHTML(path); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		page := string(b)
		if !strings.Contains(c.page.Answer, c.answer) || !strings.Contains(html.UnescapeString(page), c.also) {
			t.Errorf("%s: answer %q, want %q and on the page %q", name, c.page.Answer, c.answer, c.also)
		}
		if n := strings.Count(page, `<svg class="plot`); n != c.pictures {
			t.Errorf("%s: %d pictures, want %d", name, n, c.pictures)
		}
		if !strings.Contains(html.UnescapeString(page), "<h2>"+plain(c.page.Answer)+"</h2>") && !strings.Contains(c.page.Answer, hostile) {
			t.Errorf("%s: the page does not begin with its answer %q", name, c.page.Answer)
		}
		var text strings.Builder
		if err := c.page.WriteText(&text, 80); err != nil {
			t.Fatal(err)
		}
		for _, bad := range []string{"NaN", "Inf", "%!", "<b onclick", "\u202e", "http:", "https:", "src=", "<script"} {
			if strings.Contains(page, bad) {
				t.Errorf("%s: the page has %q", name, bad)
			}
			if bad != "<b onclick" && strings.Contains(text.String(), bad) {
				t.Errorf("%s: the text has %q:\n%s", name, bad, &text)
			}
		}
		for _, svg := range regexp.MustCompile(`<svg[^>]*>`).FindAllString(page, -1) {
			if !strings.Contains(svg, `role="img" aria-label="`) {
				t.Errorf("%s: a picture says nothing to a screen reader: %s", name, svg)
			}
		}
	}
}

// On a terminal a table keeps to the width, and every word of it is there.
func TestWideTable(t *testing.T) {
	long := "base: none, dips: 2, method: fluid bed, note: knocked off hard"
	var b strings.Builder
	StudyTable{[]string{"piece", "treatment", "P"}, [][]string{{"A01", long, "0.067"}}}.text(&b, 44)
	words := strings.Fields(b.String())
	for line := range strings.Lines(b.String()) {
		if utf8.RuneCountInString(strings.TrimSuffix(line, "\n")) > 44 {
			t.Errorf("wider than 44: %q", line)
		}
	}
	if want := len(strings.Fields("piece treatment P A01 0.067 " + long)); len(words) != want {
		t.Errorf("%d words, want %d:\n%s", len(words), want, &b)
	}
	if again := strings.Index(b.String(), "knocked") - strings.LastIndex(b.String()[:strings.Index(b.String(), "knocked")], "\n") - 1; again < len("  A01    ") {
		t.Errorf("what is wrapped does not stand under its column:\n%s", &b)
	}
}

// Three groups that cannot be told apart take one sentence, not one a pair.
func TestUnsettledPairsShareASentence(t *testing.T) {
	c, err := study.Compare(studied(), "base", study.Noticeable)
	if err != nil {
		t.Fatal(err)
	}
	bare := ComparePage(c).Sections[1]
	if bare.Heading != "Bare spots" || len(bare.Says) != 1 || !strings.Contains(bare.Says[0], "black and none, black and white, none and white") || len(bare.Table.Rows) != 3 {
		t.Errorf("%+v", bare)
	}
}

// The marks of a chart must lie where the numbers say.
func TestChartMarksTheSignal(t *testing.T) {
	c := study.Chart{Centre: 1, Points: []study.ChartPoint{{Value: 1, Lower: 0, Upper: 2}, {Value: 5, Lower: 0, Upper: 2}}, Signals: []study.Signal{{From: 1, To: 1}}}
	svg := string(chartPlot("x", "x", &c, 1))
	at := regexp.MustCompile(`class="alarm" cx="([\d.]+)" cy="([\d.]+)"`).FindAllStringSubmatch(svg, -1)
	if len(at) != 1 || !strings.Contains(svg, fmt.Sprintf(`class="dot" cx="%s" cy="%s"`, at[0][1], at[0][2])) {
		t.Fatalf("one alarm round the second point, got %v", at)
	}
	dots := regexp.MustCompile(`class="dot" cx="([\d.]+)"`).FindAllStringSubmatch(svg, -1)
	if len(dots) != 2 || dots[1][1] != at[0][1] {
		t.Errorf("the alarm is at %v, the points at %v", at, dots)
	}
}
