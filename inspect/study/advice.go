package study

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"jigloupe/inspect"
)

// advise fills in what to put under the powder, and why. What a person sees
// decides; the contrast ratio says how far from hiding the coat is.
func (s *BaseStudy) advise(curves map[string][][]inspect.TravelBin, noticeable float64) {
	noneWhite, noneBlack, whiteBlack := s.pair("none", "white"), s.pair("none", "black"), s.pair("white", "black")
	if noneWhite == nil || noneBlack == nil || whiteBlack == nil {
		s.Advice = PaintFirst
		for _, name := range []string{"none", "white", "black"} {
			if len(curves[name]) == 0 {
				s.Why = append(s.Why, fmt.Sprintf("No piece over %s has a measured colour: paint three, and photograph them under the same light.", underName(name)))
			}
		}
		return
	}
	if s.Whole != nil {
		s.Why = append(s.Why, s.hidingSays())
	}
	travels := travelGain(curves["white"], curves["black"])
	deeper := travels.Mean >= noticeable && travels.In != nil && travels.In.Lo > 0
	switch {
	case whiteBlack.looksAlike(noticeable) && (noneWhite.looksAlike(noticeable) || noneBlack.looksAlike(noticeable)):
		s.Advice, s.Shown = OnMetal, whiteBlack.Verdict == Alike && (noneWhite.Verdict == Alike || noneBlack.Verdict == Alike)
		s.Why = append(s.Why, "Over white, over black and straight on metal it looks the same: a base coat changes nothing one would see.")
	case deeper && noneBlack.looksAlike(noticeable):
		s.Advice, s.Shown = OnMetal, noneBlack.Verdict == Alike
		s.Why = append(s.Why, fmt.Sprintf("A dark ground makes its colour travel further, by ΔE00 %.1f against white, and bare metal already does what a black base would.", travels.Mean))
	case deeper:
		s.Advice, s.Shown = BlackBase, noneBlack.Verdict == Different
		s.Why = append(s.Why, fmt.Sprintf("Over black its colour travels further than over white, by ΔE00 %.1f (%.1f to %.1f).", travels.Mean, travels.In.Lo, travels.In.Hi), noneBlack.Says)
	case noneWhite.looksAlike(noticeable):
		s.Advice, s.Shown = OnMetal, noneWhite.Verdict == Alike
		s.Why = append(s.Why, "Straight on metal it looks as it does over white, so a white base changes nothing one would see.")
	default:
		s.Advice, s.Shown = WhiteBase, noneWhite.Verdict == Different
		s.Why = append(s.Why, fmt.Sprintf("What is under it shows through: a white base makes it %s than straight on metal (ΔE00 %.1f).",
			noneWhite.direction(), noneWhite.Whole.DeltaE00))
		if noneBlack.looksAlike(noticeable) {
			s.Why = append(s.Why, fmt.Sprintf("A black base is no help: as far as these pieces show it looks like bare metal (ΔE00 %.1f%s). If you like it that dark, skip the base altogether.", noneBlack.Whole.DeltaE00, noneBlack.Whole.atMost()))
		}
	}
	s.Why = append(s.Why, s.coverSays()...)
	if !s.Shown {
		s.Why = append(s.Why, s.unsure())
	}
}

// pair is the comparison of two of the study's groups, nil when there is none.
func (s *BaseStudy) pair(a, b string) *ColourPair {
	for i, p := range s.Colour {
		if p.A == a && p.B == b {
			return &s.Colour[i]
		}
	}
	return nil
}

// looksAlike is the verdict where there is one, else the likelier side of it.
func (p *ColourPair) looksAlike(noticeable float64) bool {
	if p.Verdict == TooFew {
		return p.Whole.DeltaE00 < noticeable
	}
	return p.Verdict == Alike
}

// atMost is the bound of the difference in words, where there is one.
func (d Distance) atMost() string {
	if d.AtMost == nil {
		return ""
	}
	return fmt.Sprintf(", at most %.1f", *d.AtMost)
}

// travelGain is how much further the colour travels over black than over white.
func travelGain(white, black [][]inspect.TravelBin) Estimate {
	angles := sharedAngles(append(append([][]inspect.TravelBin{}, white...), black...)...)
	travels := func(curves [][]inspect.TravelBin) []float64 {
		var out []float64
		for _, curve := range labs(curves, angles) {
			out = append(out, colourTravel(curve))
		}
		return out
	}
	return differenceOfMeans(travels(white), travels(black))
}

// differenceOfMeans is the mean of b minus that of a, with Welch's interval.
func differenceOfMeans(a, b []float64) Estimate {
	meanA, sdA := stat.MeanStdDev(a, nil)
	meanB, sdB := stat.MeanStdDev(b, nil)
	e := Estimate{Mean: meanB - meanA, Pieces: len(a) + len(b)}
	if len(a) > 1 && len(b) > 1 {
		seA, seB := sdA*sdA/float64(len(a)), sdB*sdB/float64(len(b))
		half := tQuantile(welchDF(seA, len(a), seB, len(b))) * math.Sqrt(seA+seB)
		e.In = &Interval{e.Mean - half, e.Mean + half}
	}
	return e
}

// hidingSays is the contrast ratio in words.
func (s *BaseStudy) hidingSays() string {
	h := s.Whole
	text := fmt.Sprintf("Its contrast ratio is %.2f", h.Ratio)
	if h.In != nil {
		text = fmt.Sprintf("Its contrast ratio is %.2f (%.2f to %.2f)", h.Ratio, h.In.Lo, h.In.Hi)
	}
	switch {
	case h.In != nil && h.In.Lo >= FullHiding:
		return text + fmt.Sprintf(": it hides what is under it (full hiding is %.2f).", FullHiding)
	case h.In != nil && h.In.Hi < FullHiding, h.In == nil && h.Ratio < FullHiding:
		text += fmt.Sprintf(": it does not hide what is under it (full hiding is %.2f).", FullHiding)
	default:
		return text + fmt.Sprintf(": full hiding, %.2f, is within what these pieces allow.", FullHiding)
	}
	if s.FilmTimes != nil {
		text += fmt.Sprintf(" Without a base it would need a coat roughly %.1f times as thick.", *s.FilmTimes)
	}
	return text
}

// coverSays is what the pieces without base show of the metal.
func (s *BaseStudy) coverSays() []string {
	if s.BareMetal == nil {
		return nil
	}
	text := fmt.Sprintf("Bare metal on the %d pieces without a base: %.2f %% of the head on average", s.BareMetal.Pieces, s.BareMetal.Mean)
	if in := s.BareMetal.In; in != nil {
		text += fmt.Sprintf(" (%.2f to %.2f)", math.Max(0, in.Lo), in.Hi)
	}
	for _, g := range s.Groups {
		if r := g.Faults["bare spots"]; g.Name == "none" && r.Count > 0 {
			text += fmt.Sprintf("; %d of %d fail for it. A base coat of a like colour makes bare spots less glaring but does not close them", r.Count, r.Of)
		}
	}
	return []string{text + "."}
}

// unsure says what it would take to be sure.
func (s *BaseStudy) unsure() string {
	needed := 3
	for _, p := range s.Colour {
		if p.Verdict != TooFew {
			continue
		}
		if p.Needed == nil {
			return "This is the best guess: a difference lies so close to what a person can see that no reasonable number of pieces settles it."
		}
		needed = max(needed, *p.Needed)
	}
	return fmt.Sprintf("This is the best guess from these pieces, not yet shown: about %d pieces over each base would show it.", needed)
}

func underName(base string) string {
	if base == "none" {
		return "bare metal"
	}
	return "a " + base + " base"
}
