package study

import (
	"fmt"
	"math/rand/v2"
	"slices"
)

// A Factor is a treatment with the levels to try.
type Factor struct {
	Column string   `json:"column"`
	Levels []string `json:"levels"`
}

// A Plan is a small balanced set of pieces to paint, in the order to paint them.
type Plan struct {
	Factors  []Factor            `json:"factors"`
	Rows     []map[string]string `json:"rows"` // by column, with "piece"
	Balanced bool                `json:"balanced"`
	// Power is the chance to find, for a factor of two levels, a fault that 1
	// in 10 pieces have at one level and 8 in 10 at the other.
	Power float64 `json:"power"`
}

// piecesPerLevel is how many pieces a plan paints at each level: with eight, a
// fault that goes from 1 in 10 to 8 in 10 is found in three plans of four.
const piecesPerLevel = 8

// NewPlan paints at least piecesPerLevel pieces at every level of every factor,
// so that each level of one meets all levels of every other equally often: then
// no two of them can be mistaken for one another. The order of painting is
// shuffled, so that an oven getting hotter or a jar emptier is not mistaken for
// a treatment. The same factors always give the same plan.
func NewPlan(factors []Factor) (Plan, error) {
	if len(factors) == 0 {
		return Plan{}, fmt.Errorf("a plan needs a treatment to vary")
	}
	most, lot := 0, 1
	for _, f := range factors {
		if len(f.Levels) < 2 {
			return Plan{}, fmt.Errorf("treatment %q has only one level; a plan needs two", f.Column)
		}
		most = max(most, len(f.Levels))
	}
	for i, f := range factors { // every pair of levels must fit in equally often
		lot = leastCommonMultiple(lot, len(f.Levels))
		for _, g := range factors[:i] {
			lot = leastCommonMultiple(lot, len(f.Levels)*len(g.Levels))
		}
	}
	n := (most*piecesPerLevel + lot - 1) / lot * lot
	if limit := 2 * most * piecesPerLevel; n > limit { // too many levels to balance in a small plan
		n = limit
	}
	random := rand.New(rand.NewPCG(6, uint64(n)))
	best, bestCost := [][]int(nil), -1.0
	for range 40 {
		columns := make([][]int, len(factors))
		for f := range columns {
			for i := range n {
				columns[f] = append(columns[f], i%len(factors[f].Levels))
			}
			random.Shuffle(n, func(i, j int) { columns[f][i], columns[f][j] = columns[f][j], columns[f][i] })
		}
		if cost := untangle(columns, factors); bestCost < 0 || cost < bestCost {
			best, bestCost = columns, cost
		}
		if bestCost == 0 {
			break
		}
	}
	p := Plan{Factors: factors, Balanced: bestCost == 0, Power: fisherPower(n/2, 0.1, 0.8, 1-Confidence)}
	for i, k := range random.Perm(n) {
		row := map[string]string{"piece": fmt.Sprintf("P%02d", i+1)}
		for f, factor := range factors {
			row[factor.Column] = factor.Levels[best[f][k]]
		}
		p.Rows = append(p.Rows, row)
	}
	return p, nil
}

// untangle swaps entries within columns as long as that brings the counts of
// level pairs closer to equal, and returns what is left of their imbalance. A
// swap leaves each level as often as it was.
func untangle(columns [][]int, factors []Factor) float64 {
	cost := imbalance(columns, factors)
	for improved := true; improved && cost > 0; {
		improved = false
		for _, c := range columns {
			for i := range c {
				for j := range i {
					if c[i] == c[j] {
						continue
					}
					c[i], c[j] = c[j], c[i]
					if now := imbalance(columns, factors); now < cost {
						cost, improved = now, true
					} else {
						c[i], c[j] = c[j], c[i]
					}
				}
			}
		}
	}
	return cost
}

// imbalance is the sum of squares by which counts of level pairs exceed their
// share, and a thousandth of the same for triples, so that among plans alike in
// pairs the fuller one wins.
func imbalance(columns [][]int, factors []Factor) float64 {
	total := 0.0
	for a := range columns {
		for b := range a {
			total += missed([][]int{columns[a], columns[b]}, len(factors[a].Levels)*len(factors[b].Levels))
			for c := range b {
				total += missed([][]int{columns[a], columns[b], columns[c]}, len(factors[a].Levels)*len(factors[b].Levels)*len(factors[c].Levels)) / 1000
			}
		}
	}
	return total
}

// missed sums, over the cells of the columns together, the squares by which
// counts exceed an equal share, rounded up; what is too many in one cell is
// missing in another.
func missed(columns [][]int, cells int) float64 {
	count := map[[3]int]int{}
	for i := range columns[0] {
		var cell [3]int
		for f, c := range columns {
			cell[f] = c[i] + 1
		}
		count[cell]++
	}
	share, total := (len(columns[0])+cells-1)/cells, 0.0
	for _, k := range count {
		d := float64(max(k-share, 0))
		total += d * d
	}
	return total
}

// Records are the plan as a batch sheet, its header first.
func (p Plan) Records() [][]string {
	header := []string{"piece"}
	for _, f := range p.Factors {
		header = append(header, f.Column)
	}
	records := [][]string{header}
	for _, row := range p.Rows {
		var record []string
		for _, column := range header {
			record = append(record, row[column])
		}
		records = append(records, record)
	}
	return records
}

func leastCommonMultiple(a, b int) int {
	x, y := a, b
	for y != 0 {
		x, y = y, x%y
	}
	return a / x * b
}

// factorOf proposes the levels of a column to try next: of amounts the least
// and the most, of words those tried, the three most used at the most.
func factorOf(levels []string, used map[string]int, ordered bool) []string {
	if ordered {
		return []string{levels[0], levels[len(levels)-1]}
	}
	levels = slices.Clone(levels)
	slices.SortStableFunc(levels, func(a, b string) int { return used[b] - used[a] })
	return levels[:min(3, len(levels))]
}
