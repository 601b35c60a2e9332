package study

import (
	"fmt"
	"math"
	"strings"

	"jigloupe/inspect"
)

// LotOutcome is what becomes of a lot.
type LotOutcome string

const (
	AcceptLot LotOutcome = "accept"
	RefuseLot LotOutcome = "refuse"
	LookMore  LotOutcome = "look at more"
)

// A LotVerdict is a plan with what was found by it.
type LotVerdict struct {
	Plan      Sampling   `json:"plan"`
	Oversight Oversight  `json:"oversight"` // how often the inspection errs
	Risks     Risks      `json:"risks"`
	Looked    int        `json:"looked"` // pieces judged so far
	Faulty    int        `json:"faulty"`
	Outcome   LotOutcome `json:"outcome"`
	Share     *Interval  `json:"share"` // of faulty pieces in the lot, by ClopperPearson, corrected for the oversight
	Says      []string   `json:"says"`
}

// Sample counts the pieces that could be judged and the faulty ones among them;
// close are the passes near enough to a limit to be faulty after all.
func Sample(pieces []inspect.Piece) (looked, faulty, close int) {
	for _, p := range pieces {
		switch p.Verdict {
		case inspect.Fail:
			looked, faulty = looked+1, faulty+1
		case inspect.Pass:
			looked++
			for _, r := range p.Reasons {
				if r.CloseCall {
					close++
					break
				}
			}
		}
	}
	return looked, faulty, close
}

// JudgeLot sets what was found against the plan. close counts passes that may
// be faulty after all.
func JudgeLot(s Sampling, o Oversight, looked, faulty, close int) (LotVerdict, error) {
	if faulty < 0 || looked < faulty || looked > s.LotSize {
		return LotVerdict{}, fmt.Errorf("%d faulty of %d pieces looked at, in a lot of %d: that cannot be", faulty, looked, s.LotSize)
	}
	v := LotVerdict{Plan: s, Oversight: o, Risks: s.Risks(o), Looked: looked, Faulty: faulty, Outcome: LookMore}
	switch {
	case faulty > s.Accept:
		v.Outcome = RefuseLot
	case looked >= s.N:
		v.Outcome = AcceptLot
	}
	if looked > 0 {
		in := clopperPearson(faulty, looked, Confidence)
		// What is called faulty is 1 − Missed of the faulty and False of the good.
		correct := func(called float64) float64 {
			return math.Min(1, math.Max(0, (called-o.False)/(1-o.Missed-o.False)))
		}
		v.Share = &Interval{correct(in.Lo), correct(in.Hi)}
	}
	v.say(close)
	return v, nil
}

func (v *LotVerdict) say(close int) {
	s, r := v.Plan, v.Risks
	add := func(format string, args ...any) { v.Says = append(v.Says, fmt.Sprintf(format, args...)) }
	switch v.Outcome {
	case RefuseLot:
		add("Refuse the lot: %d of %d pieces are faulty, %s.", v.Faulty, v.Looked, allowedFaulty(s.Accept))
	case AcceptLot:
		add("Accept the lot: %d of %d pieces are faulty, %s.", v.Faulty, v.Looked, allowedFaulty(s.Accept))
		if close > 0 && v.Faulty+close > s.Accept {
			add("It hangs by close calls: %d of the passes lie so near a limit that they may be faulty, and with all of them the lot would be refused. Look at those again.", close)
		}
	case LookMore:
		if v.Looked > 0 {
			add("Not decided yet: %d pieces judged, %d faulty; look at %d more.", v.Looked, v.Faulty, s.N-v.Looked)
		}
	}
	if s.N == s.LotSize {
		add("The plan: look at all %d pieces, as it asks for as many or more. The lot passes with %s.", s.LotSize, atMostFaulty(s.Accept))
	} else {
		add("The plan: look at %d of the %d pieces, drawn at random from the whole lot. The lot passes with %s.", s.N, s.LotSize, atMostFaulty(s.Accept))
	}
	if v.Share != nil && v.Looked < s.LotSize {
		add("By this sample, between %.0f and %.0f of every 100 pieces like these are faulty.", 100*v.Share.Lo, 100*v.Share.Hi)
	}
	if v.Looked > s.N {
		add("More pieces were judged than the plan asks for; its risks are for %d, and the limit of faulty pieces was not raised.", s.N)
	}
	if r.AtAQL > 0 {
		add("Producer's risk: a lot with %s, just within the limit of %g in 100, is refused all the same in %.0f of 100 cases.", faultyPieces(r.AtAQL), s.AQL, 100*r.ProducerRisk)
	} else if r.RightlyPassed < 1 {
		add("Producer's risk: a lot without a faulty piece is refused all the same in %.0f of 100 cases.", 100*(1-r.RightlyPassed))
	} else {
		add("Producer's risk: none. A lot this small is within the limit of %g in 100 only without a faulty piece, and then it always passes.", s.AQL)
	}
	if r.ConsumerAt <= s.LotSize {
		add("Consumer's risk: a lot with %s still gets through in 1 of 10 cases; with %d it is even odds.", faultyPieces(r.ConsumerAt), r.Evens)
	} else {
		add("Consumer's risk: with inspection missing so much, even a lot that is all faulty gets through in more than 1 of 10 cases.")
	}
	if v.Oversight == (Oversight{}) {
		add("These chances take every verdict on a piece as right.")
	} else {
		add("These chances allow for verdicts that are wrong: %.0f of 100 faulty pieces missed, %.0f of 100 good pieces called faulty.", 100*v.Oversight.Missed, 100*v.Oversight.False)
	}
}

func atMostFaulty(accept int) string {
	return strings.Replace(fmt.Sprintf("at most %d faulty among them", accept), "at most 0 faulty", "none faulty", 1)
}

func faultyPieces(n int) string {
	if n == 1 {
		return "1 faulty piece"
	}
	return fmt.Sprintf("%d faulty pieces", n)
}

func allowedFaulty(accept int) string {
	return strings.Replace(fmt.Sprintf("and at most %d may be", accept), "at most 0 may be", "none may be", 1)
}
