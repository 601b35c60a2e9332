package study

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/combin"
)

// A Test is the outcome of an exact or permutation test.
type Test struct {
	P     float64 `json:"p"`     // two-sided
	Least float64 `json:"least"` // the smallest P these pieces could have given
	Exact bool    `json:"exact"` // false: P is from random arrangements
}

// fisher returns the two-sided P of Fisher's exact test that two groups have
// the same share: the sum of all tables no more likely than the one seen.
//
// R. A. Fisher, The Design of Experiments (1935); R's fisher.test agrees.
func fisher(a, b Rate) float64 {
	faults, all := a.Count+b.Count, a.Of+b.Of
	observed := logHypergeometric(a.Count, a.Of, faults, all)
	p := 0.0
	for k := max(0, faults-b.Of); k <= min(faults, a.Of); k++ {
		if l := logHypergeometric(k, a.Of, faults, all); l <= observed+1e-7 { // rounding must not split ties
			p += math.Exp(l)
		}
	}
	return math.Min(1, p)
}

// logHypergeometric is the log of the chance of k faults among n drawn from
// all with faults among them. Minus infinity where k is impossible.
func logHypergeometric(k, n, faults, all int) float64 {
	if k < 0 || k > faults || n-k < 0 || n-k > all-faults {
		return math.Inf(-1)
	}
	lc := func(n, k int) float64 { return combin.LogGeneralizedBinomial(float64(n), float64(k)) }
	return lc(faults, k) + lc(all-faults, n-k) - lc(all, n)
}

// fisherPower is the chance that Fisher's test at level alpha tells shares pa
// and pb apart with n pieces in each group.
func fisherPower(n int, pa, pb, alpha float64) float64 {
	power := 0.0
	for x := 0; x <= n; x++ {
		for y := 0; y <= n; y++ {
			if fisher(Rate{Count: x, Of: n}, Rate{Count: y, Of: n}) <= alpha {
				power += binomialPMF(x, n, pa) * binomialPMF(y, n, pb)
			}
		}
	}
	return power
}

// Trend tests whether value rises or falls with dose: the permutation test of
// Σ dose·value, values moved only between pieces of the same stratum. Ranks in
// place of values make it the exact rank test (for two doses that of Mann and
// Whitney), 0 and 1 the exact Cochran–Armitage test. Nil strata means one.
func Trend(dose, value []float64, strata []string) Test {
	levels := slices.Compact(slices.Sorted(slices.Values(dose)))
	labels := make([]int, len(dose))
	for i, d := range dose {
		labels[i], _ = slices.BinarySearch(levels, d)
	}
	groups := strataOf(strata, len(dose))
	centred := slices.Clone(value) // about its stratum, so that 0 is the expected sum
	for _, g := range groups {
		mean := 0.0
		for _, i := range g {
			mean += value[i] / float64(len(g))
		}
		for _, i := range g {
			centred[i] -= mean
		}
	}
	return permute(labels, groups, func(labels []int) float64 {
		sum := 0.0
		for i, l := range labels {
			sum += levels[l] * centred[i]
		}
		return math.Abs(sum)
	})
}

// Unordered tests whether value differs between groups without an order: the
// permutation form of the Kruskal–Wallis test when value holds ranks.
//
// W. H. Kruskal and W. A. Wallis, J. Am. Stat. Assoc. 47, 583–621 (1952).
func Unordered(group []string, value []float64, strata []string) Test {
	names := slices.Compact(slices.Sorted(slices.Values(group)))
	labels := make([]int, len(group))
	for i, g := range group {
		labels[i], _ = slices.BinarySearch(names, g)
	}
	return permute(labels, strataOf(strata, len(group)), func(labels []int) float64 {
		return betweenGroups(labels, value, len(names))
	})
}

// betweenGroups is Σ (sum of group)² / size: up to constants that no
// arrangement changes, the Kruskal–Wallis H of ranks.
func betweenGroups(labels []int, value []float64, groups int) float64 {
	sum, n := make([]float64, groups), make([]float64, groups)
	for i, l := range labels {
		sum[l] += value[i]
		n[l]++
	}
	total := 0.0
	for g := range sum {
		total += sum[g] * sum[g] / n[g]
	}
	return total
}

// concordance is the chance that of two pieces with unlike doses the one with
// the higher dose has the higher value, ties counted half: 0.5 for no tendency,
// 1 when more dose always goes with more. NaN when all doses are alike.
func concordance(dose, value []float64) float64 {
	won, pairs := 0.0, 0.0
	for i := range dose {
		for j := range dose {
			if dose[i] <= dose[j] {
				continue
			}
			pairs++
			switch {
			case value[i] > value[j]:
				won++
			case value[i] == value[j]:
				won += 0.5
			}
		}
	}
	return won / pairs
}

// ranks returns the ranks of values from 1, equal values sharing their mean rank.
func ranks(values []float64) []float64 {
	sorted := slices.Sorted(slices.Values(values))
	out := make([]float64, len(values))
	for i, v := range values {
		first, _ := slices.BinarySearch(sorted, v)
		last := first
		for last+1 < len(sorted) && sorted[last+1] == v {
			last++
		}
		out[i] = float64(first+last)/2 + 1
	}
	return out
}

// strataOf lists the pieces of each stratum.
func strataOf(strata []string, n int) [][]int {
	byName := map[string][]int{}
	var order []string
	for i := range n {
		name := ""
		if strata != nil {
			name = strata[i]
		}
		if byName[name] == nil {
			order = append(order, name)
		}
		byName[name] = append(byName[name], i)
	}
	groups := make([][]int, len(order))
	for k, name := range order {
		groups[k] = byName[name]
	}
	return groups
}

const (
	maxArrangements    = 300_000 // beyond this many, draw at random; a tenth of a second's work
	randomArrangements = 20_000  // leaves P uncertain by 0.0015 at P = 0.05
)

// permute compares stat of the labels as they are with stat of all their
// arrangements within the strata, or of random ones when there are too many.
func permute(labels []int, strata [][]int, stat func([]int) float64) Test {
	observed := stat(labels)
	slack := 1e-9 * math.Max(1, math.Abs(observed)) // sums in another order differ by rounding
	atLeast, all, best, bestCount := 0, 0, math.Inf(-1), 0
	count := func(l []int) {
		s := stat(l)
		all++
		if s >= observed-slack {
			atLeast++
		}
		switch {
		case s > best+slack:
			best, bestCount = s, 1
		case s >= best-slack:
			bestCount++
		}
	}
	work := slices.Clone(labels)
	if arrangements(labels, strata) <= maxArrangements {
		enumerate(work, strata, count)
		return Test{float64(atLeast) / float64(all), float64(bestCount) / float64(all), true}
	}
	random := rand.New(rand.NewPCG(6, uint64(len(labels))))
	for range randomArrangements {
		for _, g := range strata {
			random.Shuffle(len(g), func(i, j int) { work[g[i]], work[g[j]] = work[g[j]], work[g[i]] })
		}
		count(work)
	}
	return Test{float64(atLeast+1) / float64(all+1), 1 / float64(all+1), false}
}

// arrangements is the number of distinct arrangements of labels within strata.
func arrangements(labels []int, strata [][]int) float64 {
	log := 0.0
	for _, g := range strata {
		same := map[int]int{}
		for k, i := range g {
			same[labels[i]]++
			log += math.Log(float64(k+1)) - math.Log(float64(same[labels[i]]))
		}
	}
	return math.Round(math.Exp(math.Min(log, 40)))
}

// enumerate calls visit with every distinct arrangement of labels within strata.
func enumerate(labels []int, strata [][]int, visit func([]int)) {
	if len(strata) == 0 {
		visit(labels)
		return
	}
	g := strata[0]
	inside := make([]int, len(g))
	for k, i := range g {
		inside[k] = labels[i]
	}
	slices.Sort(inside)
	for ok := true; ok; ok = nextArrangement(inside) {
		for k, i := range g {
			labels[i] = inside[k]
		}
		enumerate(labels, strata[1:], visit)
	}
}

// nextArrangement steps to the next arrangement in dictionary order; false
// after the last.
func nextArrangement(a []int) bool {
	i := len(a) - 2
	for i >= 0 && a[i] >= a[i+1] {
		i--
	}
	if i < 0 {
		return false
	}
	j := len(a) - 1
	for a[j] <= a[i] {
		j--
	}
	a[i], a[j] = a[j], a[i]
	slices.Reverse(a[i+1:])
	return true
}
