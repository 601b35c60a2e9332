package calib

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// checkTable reads a table of published or independently recomputed values; its
// first lines name their source. Columns are found by name.
func checkTable(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../testdata/check/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var table []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, column := range rows[0] {
			m[column] = row[i]
		}
		table = append(table, m)
	}
	if len(table) == 0 {
		t.Fatalf("%s: no rows", name)
	}
	return table
}

func number(t testing.TB, row map[string]string, column string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(row[column], 64)
	if err != nil {
		t.Fatalf("column %q: %v", column, err)
	}
	return x
}

func numbers3(t testing.TB, row map[string]string, a, b, c string) [3]float64 {
	t.Helper()
	return [3]float64{number(t, row, a), number(t, row, b), number(t, row, c)}
}

// near fails unless got is within tolerance of want; not a number is never near.
func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.12g, want %.12g ± %g", what, got, want, tolerance)
	}
}

func near3(t testing.TB, what string, got, want [3]float64, tolerance float64) {
	t.Helper()
	for i := range got {
		if !(math.Abs(got[i]-want[i]) <= tolerance) {
			t.Errorf("%s = %.12g, want %.12g ± %g", what, got, want, tolerance)
			return
		}
	}
}
