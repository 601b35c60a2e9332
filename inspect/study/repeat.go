package study

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// A RepeatStudy is what pieces that were placed and photographed again and
// again say of the measurement.
type RepeatStudy struct {
	Found     inspect.Repeatability `json:"found"`
	Operators []string              `json:"operators"` // or sessions; fewer than two: not asked
	Cautions  []string              `json:"cautions"`
}

// A repeated is a measure taken from one photo: one number, or three that span
// a colour, so that plain distance is ΔE00.
type repeated struct {
	measure    string
	unit       string
	viewingDeg *float64
	of         func(ph *inspect.Photo) (values []float64, u *float64)
}

// one makes a measure of a pointer and its uncertainty.
func one(v, u *float64) ([]float64, *float64) {
	if v == nil {
		return nil, nil
	}
	return []float64{*v}, u
}

var repeatedNumbers = []repeated{
	{"bare_area", "%", nil, func(ph *inspect.Photo) ([]float64, *float64) {
		if ph.Coverage == nil {
			return nil, nil
		}
		return one(ph.Coverage.BareAreaPct, ph.Coverage.U)
	}},
	{"bare_spot", "mm", nil, func(ph *inspect.Photo) ([]float64, *float64) {
		var widest *float64
		for _, s := range ph.BareSpots {
			if s.DiameterMM != nil && (widest == nil || *s.DiameterMM > *widest) {
				widest = s.DiameterMM
			}
		}
		return one(widest, nil)
	}},
	{"lump_height", "mm", nil, func(ph *inspect.Photo) ([]float64, *float64) {
		if ph.Relief == nil {
			return nil, nil
		}
		return one(ph.Relief.LumpHeightMM, nil)
	}},
	{"outline_deviation", "mm", nil, func(ph *inspect.Photo) ([]float64, *float64) {
		if ph.Relief == nil || ph.Relief.OutlineDeviationMM == nil {
			return nil, nil
		}
		size := math.Abs(*ph.Relief.OutlineDeviationMM)
		return one(&size, ph.Relief.U)
	}},
	{"pinholes", "in one view", nil, func(ph *inspect.Photo) ([]float64, *float64) {
		if ph.Relief == nil || ph.Relief.Pinholes == nil {
			return nil, nil
		}
		return []float64{float64(*ph.Relief.Pinholes)}, nil
	}},
	{"travel", "ΔE00", nil, func(ph *inspect.Photo) ([]float64, *float64) {
		if ph.Travel == nil {
			return nil, nil
		}
		return one(ph.Travel.DeltaE00Max, ph.Travel.U)
	}},
	{"shift", "ΔE00", nil, func(ph *inspect.Photo) ([]float64, *float64) {
		if ph.Travel == nil || ph.Travel.Shift == nil {
			return nil, nil
		}
		return one(&ph.Travel.Shift.DeltaE00, &ph.Travel.Shift.U)
	}},
	{"hue_arc", "°", nil, func(ph *inspect.Photo) ([]float64, *float64) {
		if ph.Travel == nil {
			return nil, nil
		}
		return one(ph.Travel.HueArcDeg, ph.Travel.HueArcU)
	}},
}

// repeatedColours are the colours by viewing angle of the photos.
func repeatedColours(cells map[cell][]*inspect.Photo) []repeated {
	seen := map[float64][]calib.Lab{}
	for _, photos := range cells {
		for _, ph := range photos {
			if ph.Travel == nil {
				continue
			}
			for _, b := range ph.Travel.Curve {
				seen[b.ViewingDeg] = append(seen[b.ViewingDeg], calib.Lab{L: b.L, A: b.A, B: b.B})
			}
		}
	}
	var angles []float64
	for deg := range seen {
		angles = append(angles, deg)
	}
	slices.Sort(angles)
	var out []repeated
	for _, deg := range angles {
		var curves [][]calib.Lab
		for _, c := range seen[deg] {
			curves = append(curves, []calib.Lab{c})
		}
		flats := []flat{flatAt(meanCurve(curves)[0])}
		out = append(out, repeated{"colour", "ΔE00", &deg, func(ph *inspect.Photo) ([]float64, *float64) {
			if ph.Travel == nil {
				return nil, nil
			}
			b, ok := at(ph.Travel.Curve, deg)
			if !ok {
				return nil, nil
			}
			return flatten([][]calib.Lab{{{L: b.L, A: b.A, B: b.B}}}, flats, []float64{1})[0], &b.U
		}})
	}
	return out
}

// A cell is one piece in the hands of one operator.
type cell struct{ piece, operator string }

// Repeats studies batches in which every usable photo of a piece, lamp-moved
// twins apart, is the piece placed anew, the same side up. Pieces limits the study to these names; none
// means all that have more than one photo. Operators come from photos.csv;
// where it names none, several batches count as sessions.
func Repeats(batches []inspect.Results, pieces []string) (RepeatStudy, error) {
	cells, lost := map[cell][]*inspect.Photo{}, 0
	var names, operators []string
	named := false
	for _, b := range batches {
		for _, p := range b.Pieces {
			for _, ph := range p.Photos {
				named = named || ph.Operator != ""
			}
		}
	}
	for n, b := range batches {
		for i := range b.Pieces {
			p := &b.Pieces[i]
			if len(pieces) > 0 && !slices.Contains(pieces, p.Piece) {
				continue
			}
			for k := range p.Photos {
				ph := &p.Photos[k]
				who := ph.Operator
				if !named && len(batches) > 1 {
					who = fmt.Sprint("session ", n+1) // folders of one name are two sessions
				}
				switch {
				case ph.Lamp != "": // the piece stayed, the lamp moved
					continue
				case !ph.Usable:
					lost++
					continue
				case named && who == "":
					return RepeatStudy{}, fmt.Errorf("%s has no operator in photos.csv, others have: name one for every photo, or for none", ph.File)
				}
				if !slices.Contains(names, p.Piece) {
					names = append(names, p.Piece)
				}
				if !slices.Contains(operators, who) {
					operators = append(operators, who)
				}
				cells[cell{p.Piece, who}] = append(cells[cell{p.Piece, who}], ph)
			}
		}
	}
	for _, p := range pieces {
		if !slices.Contains(names, p) {
			return RepeatStudy{}, fmt.Errorf("no usable photo of piece %s is in these results", p)
		}
	}
	s := RepeatStudy{Operators: operators, Cautions: []string{}}
	if !named && len(batches) == 1 {
		s.Operators = []string{}
	}
	if lost > 0 {
		s.Cautions = append(s.Cautions, fmt.Sprintf("Photos left out because they can't be judged: %d.", lost))
	}
	names = slices.DeleteFunc(names, func(n string) bool { // a piece shot once says nothing of scatter
		for _, o := range operators {
			if len(cells[cell{n, o}]) > 1 {
				return false
			}
		}
		for _, o := range operators {
			delete(cells, cell{n, o})
		}
		return true
	})
	if len(names) == 0 {
		return RepeatStudy{}, errors.New("no piece here has two usable photos: place one piece and photograph it, lift it, place it again, six times or more")
	}
	var unsettled, same []string
	for _, m := range append(slices.Clone(repeatedNumbers), repeatedColours(cells)...) {
		scatter, balanced, ok := m.scatter(cells, names, operators)
		if !ok {
			continue
		}
		if scatter.SD == 0 {
			same = append(same, m.name())
			continue
		}
		if len(operators) > 1 && !balanced {
			unsettled = append(unsettled, m.name())
		}
		s.Found.Measures = append(s.Found.Measures, scatter)
	}
	if len(same) > 0 {
		s.Cautions = append(s.Cautions, fmt.Sprintf("Left out because they came out the same every time, which does not rule out scatter on other pieces: %s.", strings.Join(same, ", ")))
	}
	if len(unsettled) > 0 {
		s.Cautions = append(s.Cautions, fmt.Sprintf("What the %d operators add could not be told for %s: it takes two pieces or more, and each operator must shoot each of them twice or more.", len(operators), strings.Join(unsettled, ", ")))
	}
	total, few := 0, len(s.Found.Measures) == 0
	for _, photos := range cells {
		total += len(photos)
	}
	for _, m := range s.Found.Measures {
		few = few || m.DF < 5
	}
	if few {
		s.Cautions = append(s.Cautions, "With fewer than six placements a standard deviation is little more than a guess: see its interval.")
	}
	s.Found.Schema = inspect.RepeatSchema
	s.Found.From = fmt.Sprintf("%s, %d photos", listed(names), total)
	if len(s.Operators) > 1 {
		s.Found.From += fmt.Sprintf(" by %d operators or in %d sessions", len(s.Operators), len(s.Operators))
	}
	return s, nil
}

// listed names up to three, and counts more.
func listed(names []string) string {
	if len(names) > 3 {
		return fmt.Sprintf("%d pieces", len(names))
	}
	return strings.Join(names, ", ")
}

func (m repeated) name() string {
	if m.viewingDeg != nil {
		return fmt.Sprintf("%s at %.0f°", m.measure, *m.viewingDeg)
	}
	return strings.ReplaceAll(m.measure, "_", " ")
}

// scatter pools the measure's scatter over the cells and, where every operator
// measured every piece twice or more, parts it into its sources. Not ok where
// no cell has the measure twice.
func (m repeated) scatter(cells map[cell][]*inspect.Photo, names, operators []string) (out inspect.Scatter, balanced, ok bool) {
	var repeats [][][]float64 // by cell, photo and coordinate
	squares, us := 0.0, 0
	trials := math.MaxInt
	for _, piece := range names {
		for _, operator := range operators {
			var values [][]float64
			for _, ph := range cells[cell{piece, operator}] {
				v, u := m.of(ph)
				if v == nil {
					continue
				}
				values = append(values, v)
				if u != nil {
					squares, us = squares+*u**u, us+1
				}
			}
			repeats = append(repeats, values)
			trials = min(trials, len(values))
		}
	}
	out = inspect.Scatter{Measure: m.measure, ViewingDeg: m.viewingDeg, Unit: m.unit}
	coordinates := 1
	if m.viewingDeg != nil {
		coordinates = 3
	}
	balanced = len(names) > 1 && len(operators) > 1 && trials > 1
	variance, parts := 0.0, inspect.Parts{}
	for axis := range coordinates {
		along := make([][]float64, len(repeats))
		study := make([][][]float64, len(names))
		for i, values := range repeats {
			for _, v := range values {
				along[i] = append(along[i], v[axis])
			}
			if balanced {
				study[i/len(operators)] = append(study[i/len(operators)], along[i][:trials])
			}
		}
		r, err := repeatability(along)
		if err != nil {
			return out, false, false
		}
		variance += r.SD * r.SD
		out.DF = r.DF // the coordinates of a colour may go together: they count once
		if !balanced {
			continue
		}
		g, err := gaugeStudy(study)
		if err != nil {
			return out, false, false
		}
		parts.Repeatability = math.Hypot(parts.Repeatability, g.Repeatability)
		parts.Operator = math.Hypot(parts.Operator, g.Operator)
		parts.Interaction = math.Hypot(parts.Interaction, g.Interaction)
		parts.Piece = math.Hypot(parts.Piece, g.Piece)
	}
	out.SD = math.Sqrt(variance)
	in := sdInterval(out.SD, out.DF)
	out.Interval = [2]float64{in.Lo, in.Hi}
	if us > 0 {
		u := math.Sqrt(squares / float64(us))
		out.ReportedU = &u
	}
	if balanced {
		out.SD = math.Sqrt(parts.Repeatability*parts.Repeatability + parts.Operator*parts.Operator + parts.Interaction*parts.Interaction)
		parts.Categories = categories(parts.Piece, out.SD)
		out.Parts = &parts
	}
	return out, balanced, true
}
