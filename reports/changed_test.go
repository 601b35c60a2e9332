package reports

import (
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"jigloupe/inspect"
)

// parents are the lists and objects in a JSON value.
func parents(v any) []any {
	var all []any
	switch v := v.(type) {
	case map[string]any:
		all = append(all, v)
		for _, key := range slices.Sorted(maps.Keys(v)) { // in an order that a seed gives again
			all = append(all, parents(v[key])...)
		}
	case []any:
		all = append(all, v)
		for _, e := range v {
			all = append(all, parents(e)...)
		}
	}
	return all
}

// Results in which some values are others, as an editor or a bad disk leaves them, are
// reported or refused, and soon.
func TestChangedResults(t *testing.T) {
	dir := t.TempDir()
	whole, err := json.Marshal(trial(t, dir))
	if err != nil {
		t.Fatal(err)
	}
	values := []any{nil, -1, 0, 1e308, -1e9, 1e-320, 1 << 62, "", "../../../etc/passwd", true, []any{}, []any{nil}, map[string]any{}}
	n := 100
	if testing.Short() {
		n = 20
	}
	path := filepath.Join(dir, "results.json")
	for seed := range n {
		r := rand.New(rand.NewPCG(1, uint64(seed)))
		var root any
		if err := json.Unmarshal(whole, &root); err != nil {
			t.Fatal(err)
		}
		changed := ""
		for range 1 + r.IntN(4) {
			all := parents(root)
			value := values[r.IntN(len(values))]
			switch v := all[r.IntN(len(all))].(type) {
			case map[string]any:
				if keys := slices.Sorted(maps.Keys(v)); len(keys) > 0 {
					key := keys[r.IntN(len(keys))]
					changed += fmt.Sprintf(" %s: %v", key, value)
					v[key] = value
				}
			case []any:
				if len(v) > 0 {
					changed += fmt.Sprintf(" [%d]: %v", len(v), value)
					v[r.IntN(len(v))] = value
				}
			}
		}
		text, err := json.Marshal(root)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
		results, err := ReadResults(path)
		if err != nil {
			continue
		}
		done := make(chan bool)
		go func() {
			defer close(done)
			WriteCSV(dir, results, nil) // these may fail, not panic
			WritePage(dir, results, nil)
			WritePDF(filepath.Join(dir, "report.pdf"), results, nil, dir, "A4")
			WriteCGATS(filepath.Join(dir, "travel.txt"), results, time.Time{})
			limits := inspect.DefaultLimits()
			for k := range results.Pieces {
				limits.Judge(&results.Pieces[k], nil)
			}
		}()
		select {
		case <-done:
		case <-time.After(20 * time.Second):
			t.Fatalf("seed %d takes more than 20 s:%s", seed, changed)
		}
	}
}
