package history

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"jigloupe/inspect/study"
)

// A Trend is how often a powder had a fault, and how large it was, batch by
// batch in order of time. Chart points belong to Batches one to one.
type Trend struct {
	Powder  string       `json:"powder"` // "" for all
	Fault   string       `json:"fault"`  // a name of study.Faults, or Travel
	Unit    string       `json:"unit"`   // of the size
	Batches []TrendBatch `json:"batches"`
	Share   *study.Chart `json:"share"` // of faulty pieces; nil for Travel, or when no piece was judged
	Size    *study.Chart `json:"size"`  // mean of the batch; nil when fewer than two batches have one
	Sized   []int        `json:"sized"` // which of Batches the points of Size are
	Says    []string     `json:"says"`
}

// TrendBatch is one batch of a trend.
type TrendBatch struct {
	ID       int64      `json:"id"`
	Name     string     `json:"name"`
	GradedAt time.Time  `json:"graded_at"`
	Rate     study.Rate `json:"rate"`
	Size     *float64   `json:"mean_size"`
}

// settled is how many batches limits should rest on; from fewer they move with
// every new one. NIST/SEMATECH e-Handbook 6.3.3.2 asks for 20 to 25.
const settled = 20

// Charted are the names that Trend takes.
func Charted() []string {
	var names []string
	for _, f := range study.Faults {
		names = append(names, f.Name)
	}
	return append(names, Travel)
}

// Trends charts one of Charted, or all of them when fault is "".
func (s *Store) Trends(powder, fault string) ([]Trend, error) {
	names := Charted()
	if fault != "" {
		if !slices.Contains(names, fault) {
			return nil, fmt.Errorf("no chart of %q; there are: %s", fault, strings.Join(names, ", "))
		}
		names = []string{fault}
	}
	var trends []Trend
	for _, name := range names {
		t, err := s.trend(powder, name)
		if err != nil {
			return nil, err
		}
		trends = append(trends, t)
	}
	return trends, nil
}

// trend charts a fault over all batches that have the powder, or over all
// batches when powder is "".
func (s *Store) trend(powder, fault string) (Trend, error) {
	t := Trend{Powder: powder, Fault: fault, Batches: []TrendBatch{}, Sized: []int{}, Says: []string{}}
	if fault == Travel {
		t.Unit = "ΔE00"
	}
	for _, f := range study.Faults {
		if f.Name == fault {
			t.Unit = f.Unit
		}
	}
	rows, err := s.db.Query(`SELECT b.id, b.name, b.graded_at, count(m.faulty), coalesce(sum(m.faulty), 0), avg(m.size)
		FROM batches b JOIN pieces p ON p.batch_id = b.id JOIN measures m ON m.piece_id = p.id
		WHERE m.name = ? AND (? = '' OR lower(p.powder) = lower(?))
		GROUP BY b.id ORDER BY b.graded_at, b.id`, fault, powder, powder)
	if err != nil {
		return Trend{}, err
	}
	defer rows.Close()
	var counts, of []int
	var sizes []float64
	for rows.Next() {
		var b TrendBatch
		var when string
		var judged, faulty int
		if err := rows.Scan(&b.ID, &b.Name, &when, &judged, &faulty, &b.Size); err != nil {
			return Trend{}, err
		}
		if b.GradedAt, err = readTime(when); err != nil {
			return Trend{}, err
		}
		b.Rate = study.NewRate(faulty, judged)
		if b.Size != nil {
			sizes = append(sizes, *b.Size)
			t.Sized = append(t.Sized, len(t.Batches))
		}
		t.Batches = append(t.Batches, b)
		counts, of = append(counts, faulty), append(of, judged)
	}
	if err := rows.Err(); err != nil {
		return Trend{}, err
	}
	if fault != Travel && len(t.Batches) > 0 {
		chart := study.PChart(counts, of)
		t.Share = &chart
	}
	if len(sizes) > 1 {
		chart := study.Individuals(sizes)
		t.Size = &chart
	}
	t.say()
	return t, nil
}

// say puts the charts into words, the warning first.
func (t *Trend) say() {
	of := "of all powders"
	if t.Powder != "" {
		of = "of " + t.Powder
	}
	if len(t.Batches) == 0 {
		t.Says = append(t.Says, fmt.Sprintf("The history has no batch %s in which %s could be judged.", of, t.Fault))
		return
	}
	warn := func(chart *study.Chart, what string, batchOf func(int) TrendBatch) {
		if chart == nil {
			return
		}
		for _, sig := range chart.Signals {
			from, to := batchOf(sig.From), batchOf(sig.To)
			where := fmt.Sprintf("%s (%s)", from.Name, from.GradedAt.Format(time.DateOnly))
			if sig.To > sig.From {
				where = fmt.Sprintf("%s (%s) to %s (%s)", from.Name, from.GradedAt.Format(time.DateOnly), to.Name, to.GradedAt.Format(time.DateOnly))
			}
			t.Says = append(t.Says, fmt.Sprintf("The process moved: %s has %s, %s. Look at what was different there.", what, sig.Says, where))
		}
	}
	warn(t.Share, fmt.Sprintf("the share of pieces with %s", t.Fault), func(i int) TrendBatch { return t.Batches[i] })
	warn(t.Size, fmt.Sprintf("the mean size of %s", t.Fault), func(i int) TrendBatch { return t.Batches[t.Sized[i]] })
	switch {
	case len(t.Batches) == 1:
		t.Says = append(t.Says, fmt.Sprintf("The history has one batch %s: add others to see whether anything changes.", of))
	case len(t.Says) == 0:
		t.Says = append(t.Says, fmt.Sprintf("Over %d batches %s there is no more change in %s than chance gives.", len(t.Batches), of, t.Fault))
	}
	if t.Share != nil {
		t.Says = append(t.Says, fmt.Sprintf("On average %.1f %% of the pieces have them.", 100*t.Share.Centre))
	}
	if n := len(t.Batches); n > 1 && n < settled {
		t.Says = append(t.Says, fmt.Sprintf("The limits rest on %d batches and will settle at about %d.", len(t.Batches), settled))
	}
}
