package inspect

import (
	"math"
	"slices"
	"testing"
)

func value(v float64) *float64 { return &v }

// sound is a piece with one usable photo that was measured and is free of faults.
func sound() Piece {
	return Piece{
		Piece: "A1", Eye: EyeOpen,
		Photos:   []Photo{{File: "A1_1.jpg", View: "1", Usable: true, ScaleMMPerPx: value(0.02)}},
		Coverage: &Coverage{BareAreaPct: value(0), U: value(0.02), SmallestVisibleMM: value(0.3)},
		Relief:   &Relief{OutlineDeviationMM: value(0.05), U: value(0.03), OutlineSeenPct: value(60), Pinholes: new(0), SmallestPinholeMM: value(0.2)},
	}
}

func unusablePhoto(p *Piece) {
	p.Photos = append(p.Photos, Photo{File: "A1_2.jpg", View: "2", Problems: []string{"It is blurred: rest the camera."}})
}

// Each case says what the piece is and which reasons it gets; "~" marks a close
// call. A call is close within 2 u of the limit (JCGM 106:2012, clause 7).
func TestJudge(t *testing.T) {
	spot := func(mm *float64) func(*Piece) {
		return func(p *Piece) {
			p.Photos[0].BareSpots = []BareSpot{{DiameterMM: mm, SharePct: 0.1, Shows: "metal", Place: "on the face"}}
			if mm != nil {
				p.Photos[0].BareSpots[0].DiameterU = value(spotDoubt * *mm)
			}
		}
	}
	doubtful := func(n int, mm, pct float64) func(*Piece) {
		return func(p *Piece) {
			for range n {
				p.Photos[0].DarkSpots = append(p.Photos[0].DarkSpots, BareSpot{DiameterMM: &mm, SharePct: pct, Confidence: 0.5, Shows: MetalOrGloss, Place: "on an edge"})
			}
			p.Photos[0].Coverage = p.Coverage
		}
	}
	area := func(pct, u float64) func(*Piece) {
		return func(p *Piece) { p.Coverage.BareAreaPct, p.Coverage.U = &pct, &u }
	}
	outline := func(mm, u float64) func(*Piece) {
		return func(p *Piece) { p.Relief.OutlineDeviationMM, p.Relief.U = &mm, &u }
	}
	all := func(steps ...func(*Piece)) func(*Piece) {
		return func(p *Piece) {
			for _, s := range steps {
				s(p)
			}
		}
	}
	for _, c := range []struct {
		name    string
		change  func(*Piece)
		limits  func(*Limits)
		verdict Outcome
		reasons []string
	}{
		{"sound", nil, nil, Pass, nil},
		{"bare area well within", area(0.3, 0.05), nil, Pass, nil},
		{"bare area just within", area(0.45, 0.05), nil, Pass, []string{"bare_area pass~"}},
		{"bare area at the limit", area(0.5, 0.05), nil, Pass, []string{"bare_area pass~"}},
		{"bare area just beyond", area(0.55, 0.05), nil, Fail, []string{"bare_area fail~"}},
		{"bare area far beyond", area(2, 0.2), nil, Fail, []string{"bare_area fail"}},
		{"spot well within", spot(value(0.35)), nil, Pass, nil},
		{"spot just within", spot(value(0.47)), nil, Pass, []string{"bare_spot pass~"}},
		{"spot at the limit fails", spot(value(0.5)), nil, Fail, []string{"bare_spot fail~"}},
		{"spot far beyond", spot(value(0.9)), nil, Fail, []string{"bare_spot fail"}},
		{"spot of unknown size is no reason by itself", spot(nil), nil, Pass, nil},
		{"twenty doubtful spots", doubtful(20, 0.4, 0.2), nil, Retake, []string{"coverage_unseen retake"}},
		{"twenty of unknown size", func(p *Piece) {
			doubtful(20, 0, 0.2)(p)
			for k := range p.Photos[0].DarkSpots {
				p.Photos[0].DarkSpots[k].DiameterMM = nil
			}
		}, nil, Retake, []string{"coverage_unseen retake"}},
		{"three doubtful spots", doubtful(3, 0.4, 0.2), nil, Pass, []string{"coverage_unseen pass~"}},
		{"a doubtful spot", doubtful(1, 0.4, 0.2), nil, Pass, nil},
		{"a wide doubtful spot counts by itself", doubtful(1, 0.6, 0.5), nil, Retake, []string{"coverage_unseen retake"}},
		{"doubtful beside bare", all(area(0.4, 0.01), doubtful(1, 0.4, 0.3)), nil, Retake, []string{"coverage_unseen retake~"}},
		{"doubtful beside too much bare", all(area(2, 0.2), doubtful(1, 0.4, 0.3)), nil, Fail, []string{"bare_area fail"}},
		{"lump just within", func(p *Piece) { p.Relief.LumpHeightMM = value(0.2) }, nil, Pass, []string{"lump_height pass~"}},
		{"lump beyond", func(p *Piece) { p.Relief.LumpHeightMM = value(0.6) }, nil, Fail, []string{"lump_height fail"}},
		{"may be a lump", func(p *Piece) {
			p.Photos[0].DoubtfulRelief = []ReliefFault{{Kind: "lump", Place: "on the face", DiameterMM: value(1.4)}}
		}, nil, Retake, []string{"lump_unseen retake"}},
		{"may be one of unknown width", func(p *Piece) {
			p.Photos[0].DoubtfulRelief = []ReliefFault{{Kind: "lump", Place: "on the face"}}
		}, nil, Retake, []string{"lump_unseen retake"}},
		{"too narrow to be as high as the limit", func(p *Piece) {
			p.Photos[0].DoubtfulRelief = []ReliefFault{{Kind: "lump", Place: "on the face", DiameterMM: value(1.4)}}
		}, func(l *Limits) { l.LumpHeightMM = 0.8 }, Pass, nil},
		{"outline inward beyond", outline(-0.5, 0.03), nil, Fail, []string{"outline_deviation fail"}},
		{"outline outward just within", outline(0.28, 0.03), nil, Pass, []string{"outline_deviation pass~"}},
		{"outline doubtful within", func(p *Piece) { p.Relief.DoubtfulMM = value(0.28) }, nil, Pass, nil},
		{"outline doubtful beyond", func(p *Piece) { p.Relief.DoubtfulMM = value(0.5) }, nil, Retake, []string{"outline_unseen retake"}},
		{"outline not measured", func(p *Piece) { p.Relief.OutlineDeviationMM, p.Relief.OutlineSeenPct = nil, nil }, nil, Retake, []string{"outline_unseen retake"}},
		{"no relief", func(p *Piece) { p.Relief = nil }, nil, Retake, []string{"outline_unseen retake", "pinholes_unseen retake"}},
		{"no scale", func(p *Piece) { p.Photos[0].ScaleMMPerPx = nil }, nil, Pass, []string{"no_scale pass"}},
		{"lump's own doubt", func(p *Piece) {
			p.Relief.LumpHeightMM = value(0.6)
			p.Photos[0].ReliefFaults = []ReliefFault{{Kind: "lump", Place: "on the face", HeightMM: value(0.6), U: value(0.18)}}
		}, nil, Fail, []string{"lump_height fail~"}},
		{"four pinholes", func(p *Piece) { p.Relief.Pinholes = new(4) }, nil, Pass, nil},
		{"five pinholes", func(p *Piece) { p.Relief.Pinholes = new(5) }, nil, Fail, []string{"pinholes fail"}},
		{"only wide pinholes would show", func(p *Piece) { p.Relief.SmallestPinholeMM = value(0.4) }, nil, Pass, []string{"pinholes_unseen pass"}},
		{"no pinhole would show", func(p *Piece) { p.Relief.SmallestPinholeMM = nil }, nil, Pass, []string{"pinholes_unseen pass"}},
		{"pinholes not looked for", func(p *Piece) { p.Relief.Pinholes = nil }, nil, Retake, []string{"pinholes_unseen retake"}},
		{"eye blocked", func(p *Piece) { p.Eye = EyeBlocked }, nil, Fail, []string{"eye fail"}},
		{"eye partly filled", func(p *Piece) { p.EyeHole = &EyeHole{75, 8} }, nil, Pass, []string{"eye pass"}},
		{"eye partly filled, nearly too far", func(p *Piece) { p.EyeHole = &EyeHole{60, 8} }, nil, Pass, []string{"eye pass~"}},
		{"eye filled, nearly open enough", func(p *Piece) { p.Eye, p.EyeHole = EyeBlocked, &EyeHole{40, 8} }, nil, Fail, []string{"eye fail~"}},
		{"eye all but open", func(p *Piece) { p.EyeHole = &EyeHole{90, 8} }, nil, Pass, nil},
		{"eye unseen", func(p *Piece) { p.Eye = EyeUnseen }, nil, Pass, []string{"eye pass"}},
		{"eye blocked but nobody minds", func(p *Piece) { p.Eye = EyeBlocked }, func(l *Limits) { l.EyeMustBeOpen = false }, Pass, nil},
		{"coat like metal", func(p *Piece) { p.Coverage.SmallestVisibleMM = value(7) }, nil, Retake, []string{"coverage_unseen retake"}},
		{"one photo of two unusable", unusablePhoto, nil, Pass, []string{"photo retake"}},
		{"too few views", nil, func(l *Limits) { l.MinViews = 2 }, Retake, []string{"views retake"}},
		{"no usable photo", func(p *Piece) { unusablePhoto(p); p.Photos = p.Photos[1:] }, nil, Retake, []string{"photo retake"}},
		{"no photo", func(p *Piece) { p.Photos = nil }, nil, Retake, []string{"photo retake"}},
		{"a fault outweighs what is missing", all(unusablePhoto, area(2, 0.2), func(p *Piece) { p.Coverage.SmallestVisibleMM = value(7) }),
			func(l *Limits) { l.MinViews = 2 }, Fail, []string{"photo retake", "views retake", "bare_area fail", "coverage_unseen retake"}},
	} {
		p, l := sound(), DefaultLimits()
		if c.change != nil {
			c.change(&p)
		}
		if c.limits != nil {
			c.limits(&l)
		}
		l.Judge(&p, nil)
		var got []string
		for _, r := range p.Reasons {
			s := r.Measure + " " + string(r.Outcome)
			if r.CloseCall {
				s += "~"
			}
			got = append(got, s)
			if r.Says == "" || r.Fix == "" {
				t.Errorf("%s: %s says %q, fix %q", c.name, r.Measure, r.Says, r.Fix)
			}
		}
		if p.Verdict != c.verdict || !slices.Equal(got, c.reasons) {
			t.Errorf("%s: %s for %q, want %s for %q", c.name, p.Verdict, got, c.verdict, c.reasons)
		}
	}
}

// Judging again gives the same: reasons are not heaped up.
func TestJudgeTwice(t *testing.T) {
	p, l := sound(), DefaultLimits()
	p.Coverage.BareAreaPct = value(3)
	l.Judge(&p, nil)
	l.Judge(&p, nil)
	if len(p.Reasons) != 1 || p.Verdict != Fail {
		t.Errorf("%s, %d reasons", p.Verdict, len(p.Reasons))
	}
	l.BareAreaPct = 5
	if l.Judge(&p, nil); p.Verdict != Pass {
		t.Errorf("%s after the limit was raised", p.Verdict)
	}
}

// The scatter of repeats widens the doubt of the measures that have it, and
// gives one to those that had none: u² = u_photo² + s².
func TestJudgeCountsRepeatsIn(t *testing.T) {
	again := &Repeatability{Measures: []Scatter{{Measure: "bare_area", SD: 0.12}, {Measure: "pinholes", SD: 1}}}
	p := sound()
	p.Coverage.BareAreaPct, p.Coverage.U, p.Relief.Pinholes = value(0.75), value(0.05), new(6)
	DefaultLimits().Judge(&p, again)
	if len(p.Reasons) != 2 {
		t.Fatalf("%+v, want bare area and pinholes", p.Reasons)
	}
	for k, want := range []float64{0.13, 1} {
		r := p.Reasons[k]
		if r.U == nil || math.Abs(*r.U-want) > 1e-12 || !r.CloseCall {
			t.Errorf("%s: u %v, close call %v, want %v, true", r.Measure, r.U, r.CloseCall, want)
		}
	}
	if *p.Coverage.U != 0.05 {
		t.Errorf("the photo's own uncertainty became %v", *p.Coverage.U)
	}
}

// What was not measured is no pass.
func TestJudgeNotMeasured(t *testing.T) {
	for name, change := range map[string]func(*Piece){
		"no coverage":  func(p *Piece) { p.Coverage = nil },
		"no bare area": func(p *Piece) { p.Coverage = &Coverage{} },
	} {
		p := sound()
		change(&p)
		DefaultLimits().Judge(&p, nil)
		if p.Verdict != Retake {
			t.Errorf("%s: %s, want retake", name, p.Verdict)
		}
	}
}
