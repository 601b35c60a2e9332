package study

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// FullHiding is the contrast ratio from which a coat counts as hiding what is
// under it: ISO 6504-3, ASTM D2805.
const FullHiding = 0.98

// Advice is what to put under a powder.
type Advice string

const (
	OnMetal    Advice = "straight on metal"
	WhiteBase  Advice = "white base"
	BlackBase  Advice = "black base"
	PaintFirst Advice = "paint more pieces first"
)

// A BaseStudy asks of one powder what a base coat under it changes.
type BaseStudy struct {
	Powder  string        `json:"powder"`
	Groups  []Group       `json:"groups"` // none, white, black: those there are
	ByAngle []HidingAngle `json:"contrast_ratio_by_angle"`
	Whole   *Hiding       `json:"contrast_ratio"` // over the whole curve
	// FilmTimes is how many times as thick the coat would have to be to hide;
	// rough, see filmTimes.
	FilmTimes *float64     `json:"film_times_to_hide"`
	Colour    []ColourPair `json:"colour"`
	BareMetal *Estimate    `json:"bare_metal_percent"` // of the head, pieces without base
	Advice    Advice       `json:"advice"`
	Shown     bool         `json:"shown"` // false: the best guess from these pieces
	Why       []string     `json:"why"`
	Cautions  []string     `json:"cautions"`
}

// Hiding is a contrast ratio: luminous reflectance Y over black divided by Y
// over white, 1 for a coat that hides. In needs two pieces a group.
type Hiding struct {
	Ratio float64   `json:"ratio"`
	In    *Interval `json:"interval"`
}

// HidingAngle is the contrast ratio at one viewing angle.
type HidingAngle struct {
	ViewingDeg float64 `json:"viewing_deg"`
	Hiding
}

// An Estimate is a mean over pieces. In needs two of them.
type Estimate struct {
	Mean   float64   `json:"mean"`
	In     *Interval `json:"interval"`
	Pieces int       `json:"pieces"`
}

// mean is the mean of one value a piece with Student's interval.
func mean(values []float64) *Estimate {
	if len(values) == 0 {
		return nil
	}
	m, sd := stat.MeanStdDev(values, nil)
	e := &Estimate{Mean: m, Pieces: len(values)}
	if n := float64(len(values)); n > 1 {
		half := tQuantile(n-1) * sd / math.Sqrt(n)
		e.In = &Interval{m - half, m + half}
	}
	return e
}

// Bases makes a study of every powder that was painted over more than one base.
// Differences of colour below noticeable ΔE00 count as none.
func Bases(pieces []inspect.Piece, noticeable float64) ([]BaseStudy, error) {
	if err := checkNoticeable(noticeable); err != nil {
		return nil, err
	}
	byPowder := map[string][]inspect.Piece{}
	for _, p := range pieces {
		byPowder[level(p, "powder")] = append(byPowder[level(p, "powder")], p)
	}
	var studies []BaseStudy
	for powder, of := range byPowder {
		groups := map[string][]inspect.Piece{}
		for _, p := range of {
			base := inspect.BaseOf(p.Sheet["base"])
			groups[base] = append(groups[base], p)
		}
		if len(groups) > 1 {
			studies = append(studies, studyBase(powder, of, groups, noticeable))
		}
	}
	if len(studies) == 0 {
		return nil, fmt.Errorf("no powder here was painted over two kinds of base: put none, white and black in the column \"base\" of the batch sheet, three pieces of each")
	}
	slices.SortFunc(studies, func(a, b BaseStudy) int { return strings.Compare(a.Powder, b.Powder) })
	return studies, nil
}

func studyBase(powder string, pieces []inspect.Piece, groups map[string][]inspect.Piece, noticeable float64) BaseStudy {
	s := BaseStudy{Powder: powder, ByAngle: []HidingAngle{}, Colour: []ColourPair{}, Cautions: mixedUp(pieces, "base")}
	light, caution := usualLight(pieces)
	if caution != "" {
		s.Cautions = append(s.Cautions, caution)
	}
	var names []string
	curves := map[string][][]inspect.TravelBin{}
	for _, name := range []string{"none", "white", "black"} {
		if groups[name] == nil {
			continue
		}
		names = append(names, name)
		curves[name] = curvesUnder(groups[name], light)
		g := Group{Name: name, Pieces: len(groups[name]), Curves: len(curves[name]), Mean: meanBins(curves[name]), Faults: map[string]Rate{}}
		for _, f := range Faults {
			g.Faults[f.Name] = f.rate(groups[name])
		}
		s.Groups = append(s.Groups, g)
	}
	for i, a := range names {
		for _, b := range names[i+1:] {
			if pair, ok := compareCurves(curves[a], curves[b]); ok {
				pair.A, pair.B = a, b
				s.Colour = append(s.Colour, pair)
			}
		}
	}
	judgeColour(s.Colour, noticeable)
	s.hiding(curves["black"], curves["white"])
	var bare []float64
	for _, p := range groups["none"] {
		if p.Coverage != nil && p.Coverage.BareAreaPct != nil {
			bare = append(bare, *p.Coverage.BareAreaPct)
		}
	}
	s.BareMetal = mean(bare)
	s.advise(curves, noticeable)
	return s
}

// hiding fills in the contrast ratios.
func (s *BaseStudy) hiding(black, white [][]inspect.TravelBin) {
	all := append(append([][]inspect.TravelBin{}, black...), white...)
	angles := sharedAngles(all...)
	if len(black) == 0 || len(white) == 0 || len(angles) == 0 {
		return
	}
	weights := seenShares(all, angles)
	luminous := func(curves [][]inspect.TravelBin, weights []float64) []float64 {
		ys := make([]float64, len(curves))
		for i, curve := range labs(curves, angles) {
			for k, c := range curve {
				ys[i] += weights[k] * c.XYZ().Y
			}
		}
		return ys
	}
	for k, deg := range angles {
		only := make([]float64, len(angles))
		only[k] = 1
		overBlack, overWhite := luminous(black, only), luminous(white, only)
		if h := contrastRatio(overBlack, overWhite); h != nil {
			s.ByAngle = append(s.ByAngle, HidingAngle{deg, *h})
		}
		if k == 0 {
			s.FilmTimes = filmTimes(stat.Mean(overBlack, nil), stat.Mean(overWhite, nil))
		}
	}
	s.Whole = contrastRatio(luminous(black, weights), luminous(white, weights))
}

// contrastRatio divides the mean of Y over black by that over white. The
// interval is Welch's for the logarithm of the ratio. Nil where no light at all
// came back.
func contrastRatio(black, white []float64) *Hiding {
	meanB, sdB := stat.MeanStdDev(black, nil)
	meanW, sdW := stat.MeanStdDev(white, nil)
	if meanB <= 0 || meanW <= 0 {
		return nil
	}
	h := &Hiding{Ratio: meanB / meanW}
	if len(black) > 1 && len(white) > 1 {
		b, w := sdB*sdB/meanB/meanB/float64(len(black)), sdW*sdW/meanW/meanW/float64(len(white))
		half := tQuantile(welchDF(b, len(black), w, len(white))) * math.Sqrt(b+w)
		h.In = &Interval{h.Ratio * math.Exp(-half), h.Ratio * math.Exp(half)}
	}
	return h
}

// filmTimes is how many times as thick a coat would have to be for a contrast
// ratio of FullHiding, from Y seen face on over black and over white. Theory
// for plain pigments, which flakes obey roughly, with base coats taken as 0 %
// and 80 % reflecting. Nil when the numbers fit no such coat.
//
// P. Kubelka, J. Opt. Soc. Am. 38, 448–457 (1948); ISO 6504-1.
func filmTimes(overBlack, overWhite float64) *float64 {
	const base = 0.80
	a := (overWhite + (overBlack-overWhite+base)/(overBlack*base)) / 2
	b := math.Sqrt(a*a - 1)
	x := (1 - a*overBlack) / (b * overBlack) // coth(b S X)
	if !(x > 1) || math.IsInf(x, 0) || overBlack >= FullHiding*overWhite {
		return nil
	}
	power := math.Log((x+1)/(x-1)) / 2 / b
	hides := func(power float64) bool {
		coth := 1 / math.Tanh(b*power)
		black := 1 / (a + b*coth)
		white := (1 - base*(a-b*coth)) / (a - base + b*coth)
		return black >= FullHiding*white
	}
	lo, hi := power, 1000*power
	if !hides(hi) {
		return nil
	}
	for hi-lo > 1e-9*power {
		if mid := (lo + hi) / 2; hides(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	times := hi / power
	return &times
}

// colourTravel is the largest ΔE00 between two viewing angles when both are
// brought to the same lightness: how far hue and chroma travel, whatever the
// light does to lightness.
func colourTravel(curve []calib.Lab) float64 {
	level, largest := 0.0, 0.0
	for _, c := range curve {
		level += c.L / float64(len(curve))
	}
	for i, a := range curve {
		for _, b := range curve[:i] {
			largest = math.Max(largest, calib.DeltaE2000(calib.Lab{L: level, A: a.A, B: a.B}, calib.Lab{L: level, A: b.A, B: b.B}))
		}
	}
	return largest
}
