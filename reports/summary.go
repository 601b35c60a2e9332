package reports

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"

	"jigloupe/inspect"
)

// A summary is what one wants to know of a batch before any piece of it.
type summary struct {
	Headline string
	Failing  []failing   // most frequent first
	Next     []advice    // what to do, most pieces first
	Rest     string      // said when Next is empty
	Groups   []treatment // verdicts by what was done to the pieces
	CloseFor []pieceRef  // pieces with a close call
	Against  []pieceRef  // pieces on which a person overruled the program
	Disagree string      // how often people overruled it, "" for never
}

// failing is one measure that failed pieces, and where.
type failing struct {
	Word   string
	Pieces []pieceRef
	Where  []string // places on the head, most frequent first
}

type advice struct {
	About  string // a measure, in words
	Do     string
	Pieces []pieceRef
}

type pieceRef struct{ ID, Name string }

// treatment counts verdicts by one column of the batch sheet.
type treatment struct {
	Column string
	Rows   []treatmentRow
}

type treatmentRow struct {
	Value              string
	Pass, Fail, Retake int
}

func summarise(r *inspect.Results, standing map[string]Overrule) summary {
	s := summary{Headline: fmt.Sprintf("%d of %d pass", r.Batch.Pass, r.Batch.Pieces), Rest: "Nothing: hang the next rack."}
	if r.Batch.Fail+r.Batch.Retake > 0 {
		s.Rest = "Read each piece's reasons."
	}
	fails, fixes := map[string]*failing{}, map[string]*advice{}
	places := map[string]map[string]int{}
	for i := range r.Pieces {
		p := &r.Pieces[i]
		ref := pieceRef{fmt.Sprintf("p%d", i+1), p.Piece}
		if _, ok := standing[p.Piece]; ok {
			s.Against = append(s.Against, ref)
		}
		close := false
		for _, reason := range p.Reasons {
			close = close || reason.CloseCall
			if reason.Outcome == inspect.Pass {
				continue
			}
			if fix := strings.TrimSpace(reason.Fix); fix != "" {
				if fixes[fix] == nil {
					fixes[fix] = &advice{About: faultWord(reason.Measure), Do: fix}
				}
				fixes[fix].Pieces = once(fixes[fix].Pieces, ref)
			}
			if reason.Outcome != inspect.Fail {
				continue
			}
			word := faultWord(reason.Measure)
			f := fails[word]
			if f == nil {
				f = &failing{Word: word}
				fails[word], places[word] = f, map[string]int{}
			}
			if slices.Contains(f.Pieces, ref) {
				continue
			}
			f.Pieces = append(f.Pieces, ref)
			for _, where := range placesOf(p, reason.Measure) {
				places[word][where]++
			}
		}
		if close {
			s.CloseFor = append(s.CloseFor, ref)
		}
	}
	for word, f := range fails {
		f.Where = byCount(places[word])
		f.Where = f.Where[:min(len(f.Where), 2)]
		s.Failing = append(s.Failing, *f)
	}
	sort.Slice(s.Failing, func(a, b int) bool {
		x, y := s.Failing[a], s.Failing[b]
		return len(x.Pieces) > len(y.Pieces) || len(x.Pieces) == len(y.Pieces) && x.Word < y.Word
	})
	for _, a := range fixes {
		s.Next = append(s.Next, *a)
	}
	sort.Slice(s.Next, func(a, b int) bool {
		x, y := s.Next[a], s.Next[b]
		if len(x.Pieces) != len(y.Pieces) {
			return len(x.Pieces) > len(y.Pieces)
		}
		return x.About < y.About || x.About == y.About && x.Do < y.Do
	})
	s.Next = s.Next[:min(len(s.Next), 6)]
	s.Groups = treatments(r)
	if len(s.Against) > 0 {
		s.Disagree = Disagreement(standing, r)
	}
	return s
}

func once(refs []pieceRef, ref pieceRef) []pieceRef {
	if slices.Contains(refs, ref) {
		return refs
	}
	return append(refs, ref)
}

// faultWord names the fault behind a measure; two limits on one fault share it.
func faultWord(measure string) string {
	switch measure {
	case "bare_area", "bare_spot":
		return "bare spots"
	case "lump_height":
		return "lumps"
	case "outline_deviation":
		return "sags and lumps in the outline"
	}
	return measureWord(measure)
}

// placesOf says where on a piece the faults behind a measure are, one by one.
func placesOf(p *inspect.Piece, measure string) []string {
	var out []string
	for _, ph := range p.Photos {
		if measure == "bare_area" || measure == "bare_spot" {
			for _, b := range ph.BareSpots {
				out = append(out, b.Place)
			}
		}
		for _, f := range ph.ReliefFaults {
			hole, outline := f.Kind == "pinhole" || f.Kind == "crater", strings.HasPrefix(f.Place, "on the outline")
			switch {
			case measure == "pinholes" && hole,
				measure == "lump_height" && !hole && !outline && f.Kind != "orange_peel",
				measure == "outline_deviation" && outline:
				out = append(out, f.Place)
			}
		}
	}
	return slices.DeleteFunc(out, func(where string) bool { return where == "" })
}

func byCount(n map[string]int) []string {
	var out []string
	for k := range n {
		out = append(out, k)
	}
	sort.Slice(out, func(a, b int) bool {
		return n[out[a]] > n[out[b]] || n[out[a]] == n[out[b]] && out[a] < out[b]
	})
	return out
}

// treatments counts verdicts by each column that has a few different values;
// one with a value of its own for every piece says nothing.
func treatments(r *inspect.Results) []treatment {
	var out []treatment
	for _, c := range r.Batch.Columns {
		rows := map[string]*treatmentRow{}
		for _, p := range r.Pieces {
			v := p.Sheet[c]
			if rows[v] == nil {
				rows[v] = &treatmentRow{Value: v}
			}
			switch p.Verdict {
			case inspect.Pass:
				rows[v].Pass++
			case inspect.Fail:
				rows[v].Fail++
			case inspect.Retake:
				rows[v].Retake++
			}
		}
		if len(rows) < 2 || len(rows) > 8 || len(rows) == len(r.Pieces) {
			continue
		}
		t := treatment{Column: columnWord(c)}
		for _, row := range rows {
			t.Rows = append(t.Rows, *row)
		}
		sort.Slice(t.Rows, func(a, b int) bool { return before(t.Rows[a].Value, t.Rows[b].Value) })
		out = append(out, t)
	}
	return out
}

// before puts numbers in their order and ahead of words.
func before(a, b string) bool {
	x, errA := strconv.ParseFloat(a, 64)
	y, errB := strconv.ParseFloat(b, 64)
	switch {
	case errA == nil && errB == nil && x != y:
		return x < y
	case (errA == nil) != (errB == nil):
		return errA == nil
	}
	return a < b
}

// choices are the values that the page's filters offer.
func choices(r *inspect.Results) (powders, bases, faults []string) {
	for i := range r.Pieces {
		p := &r.Pieces[i]
		powders = append(powders, p.Sheet["powder"])
		bases = append(bases, p.Sheet["base"])
		faults = append(faults, faultWords(p)...)
	}
	for _, s := range []*[]string{&powders, &bases, &faults} {
		sort.Strings(*s)
		*s = slices.DeleteFunc(slices.Compact(*s), func(v string) bool { return v == "" })
	}
	return powders, bases, faults
}

// faultWords names, once each, the kinds of fault a piece has.
func faultWords(p *inspect.Piece) []string {
	var out []string
	for _, ph := range p.Photos {
		if len(ph.BareSpots) > 0 {
			out = append(out, "bare spot")
		}
		for _, f := range ph.ReliefFaults {
			out = append(out, kindWord(f.Kind))
		}
		if !ph.Usable {
			out = append(out, "unusable photo")
		}
	}
	if p.Eye == inspect.EyeBlocked {
		out = append(out, "blocked eye")
	}
	sort.Strings(out)
	return slices.Compact(out)
}
