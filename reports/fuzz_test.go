package reports

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"jigloupe/inspect"
)

// A results file that somebody edited, or that is none: what is read is written
// out as page and tables again, whatever is in it.
func FuzzReadResults(f *testing.F) {
	f.Add([]byte(`{"schema": "` + inspect.Schema + `"}`))
	text, err := json.Marshal(trial(f, f.TempDir()))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"schema": "` + inspect.Schema + `", "pieces": [{"piece": "A", "verdict": "pass", "photos": [{"file": "x", "usable": true, "head": {"bbox": [0, 0, -1, 1e9]}, "picture": {"file": "../../../etc/passwd", "scale": 0}}]}, null, {}]}`))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text []byte) {
		path := filepath.Join(dir, "results.json")
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
		r, err := ReadResults(path)
		if err != nil {
			return
		}
		WriteCSV(dir, r, nil) // may fail, not panic
		if WritePage(dir, r, nil) == nil {
			if page, err := os.ReadFile(filepath.Join(dir, "index.html")); err != nil || bytes.Contains(page, []byte("root:x:")) {
				t.Fatalf("the page shows a file of the system, %v", err)
			}
		}
	})
}

func FuzzReadOverrules(f *testing.F) {
	f.Add([]byte(`{"schema": "jigloupe/overrules/1", "overrules": [{"piece": "A", "verdict": "pass", "because": "x", "by": "y", "at": "2024-01-01T00:00:00Z"}]}`))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(filepath.Join(dir, OverrulesFile), text, 0o644); err != nil {
			t.Fatal(err)
		}
		all, err := ReadOverrules(dir)
		if err != nil {
			return
		}
		if err := all.Write(dir); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadOverrules(dir); err != nil {
			t.Fatal("what was read can't be read again: ", err)
		}
	})
}
