package study

import (
	"math"
	"slices"

	"jigloupe/inspect"
)

// A Fault is a kind of fault that pieces can have.
type Fault struct {
	Name     string   // in words, plural
	Unit     string   // of its size, "" when it has none
	measures []string // of the reasons that make a piece faulty in this way
	// Size is how much of the fault a piece has, in Unit; nil when not measured.
	Size func(inspect.Piece) *float64
}

// Faults are the kinds of faults studies look at.
var Faults = []Fault{
	{"bare spots", "% of the head", []string{"bare_area", "bare_spot"}, func(p inspect.Piece) *float64 {
		if p.Coverage == nil {
			return nil
		}
		return p.Coverage.BareAreaPct
	}},
	{"lumps", "mm high", []string{"lump_height"}, func(p inspect.Piece) *float64 {
		switch {
		case p.Relief == nil:
			return nil
		case p.Relief.LumpHeightMM != nil:
			return p.Relief.LumpHeightMM
		case p.Relief.Lumps != nil && *p.Relief.Lumps == 0: // looked for and none found
			none := 0.0
			return &none
		}
		return nil // not looked for, or found without a scale
	}},
	{"sags and cones", "mm off the outline", []string{"outline_deviation"}, func(p inspect.Piece) *float64 {
		if p.Relief == nil || p.Relief.OutlineDeviationMM == nil {
			return nil
		}
		size := math.Abs(*p.Relief.OutlineDeviationMM)
		return &size
	}},
	{"pinholes", "in a view", []string{"pinholes"}, func(p inspect.Piece) *float64 {
		if p.Relief == nil || p.Relief.Pinholes == nil {
			return nil
		}
		count := float64(*p.Relief.Pinholes)
		return &count
	}},
	{"blocked eyes", "", []string{"eye"}, func(p inspect.Piece) *float64 { return nil }},
}

// Of says whether the piece has the fault and whether that could be judged at
// all: a piece to be photographed again has no known fault and no known lack of
// it, unless a usable photo already shows one.
func (f Fault) Of(p inspect.Piece) (faulty, judged bool) {
	for _, r := range p.Reasons {
		if r.Outcome == inspect.Fail && slices.Contains(f.measures, r.Measure) {
			return true, true
		}
	}
	switch {
	case p.Verdict == inspect.Retake:
		return false, false
	case f.Name == "blocked eyes":
		return false, p.Eye != inspect.EyeUnseen
	}
	return false, f.Size(p) != nil || (f.Name == "lumps" && p.Relief != nil && p.Relief.Lumps != nil)
}

// rate counts the fault among the pieces that could be judged.
func (f Fault) rate(pieces []inspect.Piece) Rate {
	count, of := 0, 0
	for _, p := range pieces {
		faulty, judged := f.Of(p)
		if judged {
			of++
		}
		if faulty {
			count++
		}
	}
	return NewRate(count, of)
}
