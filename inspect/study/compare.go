package study

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// Noticeable is the smallest ΔE00 that a person sees between two pieces held
// side by side. Common practice, no source; larger for pieces not side by side.
const Noticeable = 1.0

// AlikeRates is how far two fault rates may lie apart and still count as the
// same for the paint bench: 20 points. Common practice, no source.
const AlikeRates = 0.20

// A Verdict is what a comparison comes to.
type Verdict string

const (
	Alike     Verdict = "no difference that matters" // shown, not just not found
	Different Verdict = "different"
	TooFew    Verdict = "too few pieces"
)

// A Comparison sets the groups of a column of the batch sheet side by side.
type Comparison struct {
	By         string       `json:"by"`
	Noticeable float64      `json:"noticeable_delta_e00"`
	Groups     []Group      `json:"groups"`
	Colour     []ColourPair `json:"colour"`
	Faults     []FaultPair  `json:"faults"`
	Cautions   []string     `json:"cautions"`
}

// Group is one treatment's pieces.
type Group struct {
	Name   string              `json:"name"`
	Pieces int                 `json:"pieces"`
	Curves int                 `json:"curves"` // pieces whose colour could be measured under the light compared
	Mean   []inspect.TravelBin `json:"mean_curve"`
	Faults map[string]Rate     `json:"faults"` // by Fault.Name
}

// ColourPair is the colour of group B against that of group A.
type ColourPair struct {
	A         string          `json:"a"`
	B         string          `json:"b"`
	Pieces    int             `json:"pieces"` // with a curve, in the smaller group
	Whole     Distance        `json:"whole"`  // root mean square over the viewing angles, by share of the visible surface
	Adjusted  *float64        `json:"p_adjusted"`
	ByAngle   []AngleDistance `json:"by_angle"`
	Lightness float64         `json:"delta_lightness"` // L* of B minus A, over the whole curve
	Chroma    float64         `json:"delta_chroma"`    // C* of B minus A
	Verdict   Verdict         `json:"verdict"`
	Needed    *int            `json:"pieces_needed_per_group"` // to settle it, when there are too few
	Says      string          `json:"says"`
}

// AngleDistance is the difference at one viewing angle.
type AngleDistance struct {
	ViewingDeg float64 `json:"viewing_deg"`
	Distance
}

// FaultPair is a fault's rate in group B against that in group A.
type FaultPair struct {
	Fault      string   `json:"fault"`
	A          string   `json:"a"`
	B          string   `json:"b"`
	RateA      Rate     `json:"rate_a"`
	RateB      Rate     `json:"rate_b"`
	Difference Interval `json:"difference"` // of the shares, B minus A
	P          float64  `json:"p"`          // Fisher's exact test
	Adjusted   float64  `json:"p_adjusted"` // for all faults and pairs
	Verdict    Verdict  `json:"verdict"`
	Needed     *int     `json:"pieces_needed_per_group"`
	Says       string   `json:"says"`
}

// Compare sets the groups of a column side by side, in colour and in faults.
// Differences of colour below noticeable ΔE00 count as none.
func Compare(pieces []inspect.Piece, column string, noticeable float64) (Comparison, error) {
	if err := checkNoticeable(noticeable); err != nil {
		return Comparison{}, err
	}
	groups, err := groupBy(pieces, column)
	if err != nil {
		return Comparison{}, err
	}
	c := Comparison{By: column, Noticeable: noticeable, Colour: []ColourPair{}, Faults: []FaultPair{}, Cautions: mixedUp(pieces, column)}
	light, caution := usualLight(pieces)
	if caution != "" {
		c.Cautions = append(c.Cautions, caution)
	}
	curves := make([][][]inspect.TravelBin, len(groups))
	for i, g := range groups {
		curves[i] = curvesUnder(g.pieces, light)
		group := Group{Name: g.name, Pieces: len(g.pieces), Curves: len(curves[i]), Mean: meanBins(curves[i]), Faults: map[string]Rate{}}
		for _, f := range Faults {
			group.Faults[f.Name] = f.rate(g.pieces)
		}
		c.Groups = append(c.Groups, group)
	}
	for i := range groups {
		for j := i + 1; j < len(groups); j++ {
			if pair, ok := compareCurves(curves[i], curves[j]); ok {
				pair.A, pair.B = groups[i].name, groups[j].name
				c.Colour = append(c.Colour, pair)
			}
			for _, f := range Faults {
				a, b := c.Groups[i].Faults[f.Name], c.Groups[j].Faults[f.Name]
				if a.Of == 0 || b.Of == 0 {
					continue
				}
				c.Faults = append(c.Faults, FaultPair{Fault: f.Name, A: groups[i].name, B: groups[j].name,
					RateA: a, RateB: b, Difference: rateDifference(a, b), P: fisher(a, b)})
			}
		}
	}
	judgeColour(c.Colour, noticeable)
	judgeFaults(c.Faults)
	return c, nil
}

func checkNoticeable(deltaE00 float64) error {
	if !(deltaE00 > 0) {
		return fmt.Errorf("a noticeable difference of ΔE00 %g: it must be above 0, as no number of pieces shows two paints to be exactly alike", deltaE00)
	}
	return nil
}

// compareCurves measures two groups' colours against each other, at the angles
// all their pieces share. Not ok when a group has no curve or they share none.
func compareCurves(a, b [][]inspect.TravelBin) (pair ColourPair, ok bool) {
	all := append(append([][]inspect.TravelBin{}, a...), b...)
	angles := sharedAngles(all...)
	if len(a) == 0 || len(b) == 0 || len(angles) == 0 {
		return ColourPair{}, false
	}
	labsA, labsB, weights := labs(a, angles), labs(b, angles), seenShares(all, angles)
	pair.Pieces = min(len(a), len(b))
	pair.Whole = distance(labsA, labsB, weights)
	for k, deg := range angles {
		one := func(curves [][]calib.Lab) [][]calib.Lab {
			out := make([][]calib.Lab, len(curves))
			for i := range curves {
				out[i] = curves[i][k : k+1]
			}
			return out
		}
		pair.ByAngle = append(pair.ByAngle, AngleDistance{deg, distance(one(labsA), one(labsB), []float64{1})})
	}
	meanA, meanB := meanCurve(labsA), meanCurve(labsB)
	for k, w := range weights {
		pair.Lightness += w * (meanB[k].L - meanA[k].L)
		pair.Chroma += w * (meanB[k].Chroma() - meanA[k].Chroma())
	}
	return pair, true
}

// judgeColour gives every pair its verdict, the P values adjusted together.
func judgeColour(pairs []ColourPair, noticeable float64) {
	var ps []float64
	var tested []int
	for i, p := range pairs {
		if p.Whole.P != nil {
			ps, tested = append(ps, *p.Whole.P), append(tested, i)
		}
	}
	for k, adjusted := range holm(ps) {
		pairs[tested[k]].Adjusted = &adjusted
	}
	for i := range pairs {
		pairs[i].judge(noticeable)
	}
}

func (p *ColourPair) judge(noticeable float64) {
	d := p.Whole
	switch {
	case d.In == nil:
		n := 3
		p.Verdict, p.Needed = TooFew, &n
		p.Says = fmt.Sprintf("%s and %s differ by ΔE00 %.1f, but with fewer than 2 pieces in a group nobody can say how much of that is chance; paint at least 3 of each.", p.A, p.B, d.DeltaE00)
	case *d.AtMost < noticeable:
		p.Verdict = Alike
		p.Says = fmt.Sprintf("%s and %s show no visible difference: with 95 %% confidence ΔE00 is at most %.1f, and a person needs about %.1f.", p.A, p.B, *d.AtMost, noticeable)
	case *p.Adjusted <= 1-Confidence:
		p.Verdict = Different
		seen := "a difference one sees"
		if d.In.Lo < noticeable {
			seen = "a difference, though perhaps too small to notice"
		}
		p.Says = fmt.Sprintf("%s differs from %s by ΔE00 %.1f (%.1f to %.1f), %s; it is %s.", p.B, p.A, d.DeltaE00, d.In.Lo, d.In.Hi, seen, p.direction())
	default:
		p.Verdict, p.Needed = TooFew, d.needed(noticeable, p.Pieces)
		more := "even 200 pieces of each would not settle it: the difference lies right at what a person can see."
		if p.Needed != nil {
			more = fmt.Sprintf("about %d pieces of each would settle it, %d more than there are.", *p.Needed, *p.Needed-p.Pieces)
		}
		p.Says = fmt.Sprintf("%s and %s may or may not differ: ΔE00 lies between %.1f and %.1f; %s", p.A, p.B, d.In.Lo, d.In.Hi, more)
	}
}

// direction says how B looks beside A.
func (p ColourPair) direction() string {
	lightness, chroma := "lighter", "more colourful"
	if p.Lightness < 0 {
		lightness = "darker"
	}
	if p.Chroma < 0 {
		chroma = "less colourful"
	}
	return fmt.Sprintf("%s by %.1f L* and %s by %.1f C*", lightness, math.Abs(p.Lightness), chroma, math.Abs(p.Chroma))
}

// needed is how many pieces a group, more than the now there are, would settle
// whether the difference is real or too small to notice, if it and the scatter
// are as seen. Nil above 200.
func (d Distance) needed(noticeable float64, now int) *int {
	for n := max(3, now+1); n <= 200; n++ {
		se, df := d.sd*math.Sqrt(2/float64(n)), float64(2*n-2)
		seen := math.Hypot(d.DeltaE00, se)
		oneSided := distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(Confidence)
		if seen+oneSided*se < noticeable || d.DeltaE00-tQuantile(df)*se > 0 {
			return &n
		}
	}
	return nil
}

// judgeFaults gives every pair its verdict, the P values adjusted together.
func judgeFaults(pairs []FaultPair) {
	ps := make([]float64, len(pairs))
	for i, p := range pairs {
		ps[i] = p.P
	}
	for i, adjusted := range holm(ps) {
		p := &pairs[i]
		p.Adjusted = adjusted
		counts := fmt.Sprintf("%s: %d of %d with %s, %d of %d with %s", p.Fault, p.RateA.Count, p.RateA.Of, p.A, p.RateB.Count, p.RateB.Of, p.B)
		lo, hi := 100*p.Difference.Lo, 100*p.Difference.Hi
		switch {
		case adjusted <= 1-Confidence:
			p.Verdict = Different
			p.Says = fmt.Sprintf("%s. The difference is real: %+.0f points (%+.0f to %+.0f).", counts, 100*(p.RateB.Share()-p.RateA.Share()), lo, hi)
		case p.Difference.Lo > -AlikeRates && p.Difference.Hi < AlikeRates:
			p.Verdict = Alike
			p.Says = fmt.Sprintf("%s. They are alike to within %.0f points.", counts, 100*AlikeRates)
		default:
			p.Verdict = TooFew
			n := piecesForRates(p.RateA, p.RateB)
			p.Needed = &n
			p.Says = fmt.Sprintf("%s. Too few to tell: the difference can be anything from %+.0f to %+.0f points; about %d of each would settle it if these shares hold.", counts, lo, hi, n)
		}
	}
}

// piecesForRates is how many pieces a group would settle two rates: show the
// difference with a chance of 80 %, or for shares less than AlikeRates apart
// show that they are. The first is the usual formula with its correction for
// exact tests: J. L. Fleiss, Statistical Methods for Rates and Proportions, 2nd
// ed. (1981), 3.2.
func piecesForRates(a, b Rate) int {
	pa, pb := a.Share(), b.Share()
	apart := math.Abs(pb - pa)
	if apart < AlikeRates {
		for n := max(a.Of, b.Of); n < 1000; n++ {
			count := func(share float64) int { return int(math.Round(share * float64(n))) }
			d := rateDifference(NewRate(count(pa), n), NewRate(count(pb), n))
			if d.Lo > -AlikeRates && d.Hi < AlikeRates {
				return n
			}
		}
		return 1000
	}
	za, zb := distuv.UnitNormal.Quantile(0.5+Confidence/2), distuv.UnitNormal.Quantile(0.8)
	mean := (pa + pb) / 2
	root := za*math.Sqrt(2*mean*(1-mean)) + zb*math.Sqrt(pa*(1-pa)+pb*(1-pb))
	n := root * root / (apart * apart)
	n = n / 4 * math.Pow(1+math.Sqrt(1+4/(n*apart)), 2)
	return max(int(math.Ceil(n)), a.Of+1, b.Of+1)
}

// usualLight is the kind of light most curves were taken under; curves under
// another cannot be compared with them and are left out, with a caution.
func usualLight(pieces []inspect.Piece) (light, caution string) {
	count := map[string]int{}
	for _, p := range pieces {
		if p.Travel != nil {
			count[p.Travel.Light]++
			if n := count[p.Travel.Light]; n > count[light] || (n == count[light] && p.Travel.Light < light) {
				light = p.Travel.Light
			}
		}
	}
	others := -count[light]
	for _, n := range count {
		others += n
	}
	if others > 0 {
		caution = fmt.Sprintf("%d of the pieces were photographed under another kind of light than %q and are left out of the colour: their curves cannot be compared.", others, light)
	}
	return light, caution
}

// SameLight keeps the pieces shot under the kind of light that most were, and
// pools their curves; nil when none has a curve.
func SameLight(pieces []inspect.Piece) ([]inspect.Piece, *inspect.Travel) {
	light, _ := usualLight(pieces)
	var kept []inspect.Piece
	var travels []*inspect.Travel
	for _, p := range pieces {
		if p.Travel != nil && p.Travel.Light == light && len(p.Travel.Curve) > 0 {
			kept, travels = append(kept, p), append(travels, p.Travel)
		}
	}
	return kept, inspect.PoolTravel(travels)
}

// curvesUnder are the travel curves taken under the light.
func curvesUnder(pieces []inspect.Piece, light string) [][]inspect.TravelBin {
	var curves [][]inspect.TravelBin
	for _, p := range pieces {
		if p.Travel != nil && p.Travel.Light == light && len(p.Travel.Curve) > 0 {
			curves = append(curves, p.Travel.Curve)
		}
	}
	return curves
}

// meanBins is the mean curve at the angles all curves share; Px is their sum, U not given.
func meanBins(curves [][]inspect.TravelBin) []inspect.TravelBin {
	bins := []inspect.TravelBin{}
	angles := sharedAngles(curves...)
	if len(angles) == 0 {
		return bins
	}
	for k, c := range meanCurve(labs(curves, angles)) {
		bin := inspect.TravelBin{ViewingDeg: angles[k], L: c.L, A: c.A, B: c.B}
		for _, curve := range curves {
			b, _ := at(curve, angles[k])
			bin.Px += b.Px
		}
		bins = append(bins, bin)
	}
	return bins
}

// mixedUp says which other treatments change together with the column, so that
// a difference could be theirs.
func mixedUp(pieces []inspect.Piece, column string) []string {
	cautions := []string{}
	for _, other := range treatments(pieces) {
		if other == column {
			continue
		}
		switch v := togetherness(pieces, column, other); {
		case v >= inseparable:
			cautions = append(cautions, fmt.Sprintf("%s and %s always change together in these pieces: a difference can come from either, and nothing measured here can say which.", column, other))
		case v >= entangled:
			cautions = append(cautions, fmt.Sprintf("%s and %s often change together in these pieces: part of a difference can come from %s.", column, other, other))
		}
	}
	return cautions
}
