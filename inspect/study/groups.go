package study

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"jigloupe/inspect"
)

// Pool puts the pieces of several batches together. When there are several,
// each piece's sheet gets its batch's name in the column "batch".
func Pool(batches ...inspect.Results) []inspect.Piece {
	var pieces []inspect.Piece
	for _, b := range batches {
		for _, p := range b.Pieces {
			if len(batches) > 1 {
				sheet := maps.Clone(p.Sheet)
				if sheet == nil {
					sheet = map[string]string{}
				}
				sheet["batch"] = b.Batch.Name
				p.Sheet = sheet
			}
			pieces = append(pieces, p)
		}
	}
	return pieces
}

// Only keeps the pieces with the value in the column.
func Only(pieces []inspect.Piece, column, value string) []inspect.Piece {
	var kept []inspect.Piece
	for _, p := range pieces {
		if strings.EqualFold(p.Sheet[column], value) {
			kept = append(kept, p)
		}
	}
	return kept
}

// A group are the pieces that had one treatment.
type group struct {
	name   string
	pieces []inspect.Piece
}

// groupBy splits the pieces by a column of their batch sheet, in the order of
// the numbers in it or of the alphabet.
func groupBy(pieces []inspect.Piece, column string) ([]group, error) {
	byName := map[string][]inspect.Piece{}
	known := map[string]bool{}
	for _, p := range pieces {
		for c := range p.Sheet {
			known[c] = true
		}
		byName[level(p, column)] = append(byName[level(p, column)], p)
	}
	if !known[column] {
		return nil, fmt.Errorf("no piece has a column %q in its batch sheet; there are: %s",
			column, strings.Join(slices.Sorted(maps.Keys(known)), ", "))
	}
	var groups []group
	for _, name := range sortLevels(slices.Collect(maps.Keys(byName))) {
		groups = append(groups, group{name, byName[name]})
	}
	if len(groups) < 2 {
		return nil, fmt.Errorf("column %q has only %q: comparing needs two kinds of pieces", column, groups[0].name)
	}
	return groups, nil
}

// level is what the piece's sheet says in the column.
func level(p inspect.Piece, column string) string {
	if v := strings.TrimSpace(p.Sheet[column]); v != "" {
		return v
	}
	return "(not stated)"
}

// dose reads a level as an amount: a number, or parts such as 4:1.
func dose(level string) (amount float64, ok bool) {
	parts, of, isRatio := strings.Cut(level, ":")
	amount, err := strconv.ParseFloat(strings.TrimSpace(parts), 64)
	if isRatio && err == nil {
		var per float64
		per, err = strconv.ParseFloat(strings.TrimSpace(of), 64)
		amount /= per
	}
	return amount, err == nil && !math.IsInf(amount, 0) && !math.IsNaN(amount)
}

// sortLevels sorts by amount where all levels are amounts, else by name.
func sortLevels(levels []string) []string {
	slices.Sort(levels)
	for _, l := range levels {
		if _, ok := dose(l); !ok {
			return levels
		}
	}
	slices.SortStableFunc(levels, func(a, b string) int {
		x, _ := dose(a)
		y, _ := dose(b)
		switch {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return levels
}

// notTreatments are columns of the batch sheet that describe the photo or the
// paperwork and cannot cause a fault.
var notTreatments = []string{"note", "notes", "mm_per_px", "head_mm", "customer", "order", "batch"}

// treatments lists the columns in which the pieces differ and that could have
// made a difference. A column of words with another word for every piece is a
// name, not a treatment.
func treatments(pieces []inspect.Piece) []string {
	values := map[string]map[string]bool{}
	for _, p := range pieces {
		for column := range p.Sheet {
			values[column] = map[string]bool{}
		}
	}
	var columns []string
	for column, seen := range values {
		amounts := true
		for _, p := range pieces {
			seen[level(p, column)] = true
			_, ok := dose(level(p, column))
			amounts = amounts && ok
		}
		if len(seen) > 1 && (amounts || len(seen) < len(pieces)) && !slices.Contains(notTreatments, column) {
			columns = append(columns, column)
		}
	}
	slices.Sort(columns)
	return columns
}

// coarse is the level of each piece in the column, amounts of more than three
// kinds cut at the median: with an amount of its own for every piece, a column
// would seem to tell every other.
func coarse(pieces []inspect.Piece, column string) []string {
	levels := make([]string, len(pieces))
	kinds := map[string]bool{}
	var amounts []float64
	for i, p := range pieces {
		levels[i] = level(p, column)
		kinds[levels[i]] = true
		if amount, ok := dose(levels[i]); ok {
			amounts = append(amounts, amount)
		}
	}
	if len(kinds) <= 3 || len(amounts) < len(pieces) {
		return levels
	}
	slices.Sort(amounts)
	median := amounts[len(amounts)/2]
	for i := range levels {
		amount, _ := dose(levels[i])
		levels[i] = "less"
		if amount > median || (amount == median && median > amounts[0]) {
			levels[i] = "more"
		}
	}
	return levels
}

// togetherness is how far two columns change together, Cramér's V: 0 when each
// level of one comes with all levels of the other alike, 1 when one tells the
// other. H. Cramér, Mathematical Methods of Statistics (1946), 21.9.
func togetherness(pieces []inspect.Piece, a, b string) float64 {
	count, rows, columns := map[[2]string]float64{}, map[string]float64{}, map[string]float64{}
	inA, inB := coarse(pieces, a), coarse(pieces, b)
	for i := range pieces {
		x, y := inA[i], inB[i]
		count[[2]string{x, y}]++
		rows[x]++
		columns[y]++
	}
	n, chi2 := float64(len(pieces)), 0.0
	for x, nx := range rows {
		for y, ny := range columns {
			expected := nx * ny / n
			d := count[[2]string{x, y}] - expected
			chi2 += d * d / expected
		}
	}
	smaller := float64(min(len(rows), len(columns)) - 1)
	if smaller == 0 {
		return 0
	}
	return math.Sqrt(chi2 / n / smaller)
}

// inseparable and entangled are the togetherness from which two treatments
// cannot, or can hardly, be told apart. Common practice, no source.
const (
	inseparable = 0.999
	entangled   = 0.5
)
