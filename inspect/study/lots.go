package study

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Sampling is a single sampling plan by attributes: how many pieces of a lot to
// look at, and how many faulty ones among them still let it pass.
type Sampling struct {
	LotSize   int     `json:"lot_size"`
	AQL       float64 `json:"aql_percent"` // acceptance quality limit, faulty pieces per 100
	Level     string  `json:"level"`       // inspection level, S-1 … III
	Tightened bool    `json:"tightened"`
	Letter    string  `json:"letter"` // code letter, arrows followed
	N         int     `json:"n"`      // pieces to look at; the whole lot when the plan asks for more than it has
	Accept    int     `json:"accept"` // with so many faulty pieces or fewer, the lot passes
}

// AQLs are the acceptance quality limits of the tables here, in percent.
var AQLs = []float64{0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10}

// Levels are the inspection levels; II is the ordinary one.
var Levels = []string{"S-1", "S-2", "S-3", "S-4", "I", "II", "III"}

// ISO 2859-1, Table 1: the largest lot of each row, and its code letter at each of Levels.
var (
	lotUpTo     = []int{8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10000, 35000, 150000, 500000, math.MaxInt}
	codeLetters = []string{"AAAAAAB", "AAAAABC", "AABBBCD", "ABBCCDE", "BBCCCEF", "BBCDDFG", "BCDEEGH", "BCDEFHJ",
		"CCEFGJK", "CDEGHKL", "CDFGJLM", "CDFHKMN", "DEGJLNP", "DEGJMPQ", "DEHKNQR"}
)

// The letters of Tables 2-A and 2-B, the sample size of each, and the
// acceptance numbers along the tables' diagonals.
var (
	letters          = "ABCDEFGHJKLMNPQR"
	sampleSizes      = []int{2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000}
	acceptNormal     = []int{1, 2, 3, 5, 7, 10, 14, 21}
	acceptTightened  = []int{1, 2, 3, 5, 8, 12, 18}
	zeroDiagonal     = map[bool]int{false: 6, true: 7}  // letter + AQL index of the plans that accept none; tightened: true
	firstOneDiagonal = map[bool]int{false: 9, true: 10} // and of those that accept one
)

// NewSampling returns the plan for a lot of size pieces, with the tables'
// arrows followed.
//
// ISO 2859-1:1999 Tables 1, 2-A and 2-B (ANSI/ASQ Z1.4, MIL-STD-105E Tables I,
// II-A and II-B). The tables are regular: the acceptance number depends only on
// letter + AQL, which is how they are held here.
func NewSampling(size int, aql float64, level string, tightened bool) (Sampling, error) {
	column, row := slices.Index(AQLs, aql), slices.Index(Levels, level)
	switch {
	case size < 2:
		return Sampling{}, fmt.Errorf("lot of %d: sampling needs a lot of at least 2 pieces", size)
	case column < 0:
		return Sampling{}, fmt.Errorf("there is no plan for an AQL of %v: choose one of %s", aql, strings.Trim(fmt.Sprint(AQLs), "[]"))
	case row < 0:
		return Sampling{}, fmt.Errorf("inspection level %q: choose one of %s", level, strings.Join(Levels, ", "))
	}
	lot, _ := slices.BinarySearch(lotUpTo, size)
	letter := strings.IndexByte(letters, codeLetters[lot][row])
	letter, accept := follow(letter, column, tightened)
	return Sampling{size, aql, level, tightened, letters[letter : letter+1], min(size, sampleSizes[letter]), accept}, nil
}

// follow resolves a cell of Table 2-A or 2-B to the letter and acceptance
// number its arrows lead to.
func follow(letter, column int, tightened bool) (toLetter, accept int) {
	diagonal, zero, one := letter+column, zeroDiagonal[tightened], firstOneDiagonal[tightened]
	numbers := acceptNormal
	if tightened {
		numbers = acceptTightened
	}
	last := one + len(numbers) - 1
	switch {
	case diagonal >= one && diagonal <= last:
		return letter, numbers[diagonal-one]
	case diagonal > last: // arrow up
		return last - column, numbers[len(numbers)-1]
	case diagonal <= zero && column < len(AQLs)-1: // itself, or arrow down; no plan accepts none at AQL 10
		return zero - column, 0
	case diagonal == zero+1 && !tightened && letter > 0: // arrow up
		return letter - 1, 0
	}
	return one - column, 1 // arrow down
}

// An Oversight is how often the inspection itself errs.
type Oversight struct {
	Missed float64 `json:"missed"` // share of faulty pieces called good, in [0, 1)
	False  float64 `json:"false"`  // share of good pieces called faulty, in [0, 1)
}

// NewOversight takes the two error rates in percent.
func NewOversight(missed, falseAlarms float64) (Oversight, error) {
	o := Oversight{missed / 100, falseAlarms / 100}
	if !(o.Missed >= 0 && o.False >= 0 && o.Missed+o.False < 1) {
		return Oversight{}, fmt.Errorf("%g %% missed and %g %% false alarms: both must be 0 or more, and less than 100 together", missed, falseAlarms)
	}
	return o, nil
}

// Passes is the chance that the lot passes when faulty of its pieces are.
func (s Sampling) Passes(faulty int, o Oversight) float64 {
	chance := 0.0
	for seen := 0; seen <= min(faulty, s.N); seen++ {
		l := logHypergeometric(seen, s.N, faulty, s.LotSize)
		if math.IsInf(l, -1) {
			continue
		}
		few := 0.0 // chance that at most Accept are called faulty of seen faulty and N − seen good ones
		for found := 0; found <= min(seen, s.Accept); found++ {
			few += binomialPMF(found, seen, 1-o.Missed) * binomialCDF(s.Accept-found, s.N-seen, o.False)
		}
		chance += math.Exp(l) * few
	}
	return math.Min(1, chance)
}

// Risks are a plan's two risks in pieces of this very lot.
type Risks struct {
	AtAQL         int     `json:"at_aql"`         // faulty pieces in a lot just at the AQL
	ProducerRisk  float64 `json:"producer_risk"`  // chance that such a lot is refused
	Evens         int     `json:"evens"`          // least number of faulty pieces with which the lot is refused half the time
	ConsumerAt    int     `json:"consumer_at"`    // and nine times in ten; LotSize + 1 when never
	RightlyPassed float64 `json:"rightly_passed"` // chance that a lot without any fault passes
}

// Risks returns the plan's risks given how often the inspection errs.
func (s Sampling) Risks(o Oversight) Risks {
	r := Risks{AtAQL: int(s.AQL / 100 * float64(s.LotSize)), RightlyPassed: s.Passes(0, o)}
	r.ProducerRisk = 1 - s.Passes(r.AtAQL, o)
	// Passes falls as faults rise as long as a faulty piece is likelier to be called faulty than a good one.
	at := func(chance float64) int {
		lo, hi := 0, s.LotSize+1
		for lo < hi {
			mid := (lo + hi) / 2
			if s.Passes(mid, o) <= chance {
				hi = mid
			} else {
				lo = mid + 1
			}
		}
		return lo
	}
	r.Evens, r.ConsumerAt = at(0.5), at(0.1)
	return r
}

// QualityPassed is the share of faulty pieces, in [0, 1], at which a process
// has its lots passed with the given chance, however large the lots are.
// ISO 2859-1 prints it in its Table 10 (MIL-STD-105E Table X).
func (s Sampling) QualityPassed(chance float64) float64 {
	return distuv.Beta{Alpha: float64(s.Accept) + 1, Beta: float64(s.N - s.Accept)}.Quantile(1 - chance)
}

// binomialPMF is the chance of exactly k in n at share p.
func binomialPMF(k, n int, p float64) float64 {
	switch {
	case k < 0 || k > n:
		return 0
	case p <= 0 || p >= 1: // where the formula has 0·log 0
		if (p <= 0 && k == 0) || (p >= 1 && k == n) {
			return 1
		}
		return 0
	}
	return distuv.Binomial{N: float64(n), P: p}.Prob(float64(k))
}

// binomialCDF is the chance of at most k in n at share p.
func binomialCDF(k, n int, p float64) float64 {
	sum := 0.0
	for i := 0; i <= min(k, n); i++ {
		sum += binomialPMF(i, n, p)
	}
	return math.Min(1, sum)
}
