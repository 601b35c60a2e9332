package reports

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"jigloupe/inspect"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func TestResultsComeBack(t *testing.T) {
	dir := t.TempDir()
	want := trial(t, dir)
	if err := WriteResults(dir, want); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "results.json")
	got, err := ReadResults(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got, cmpopts.EquateEmpty()); d != "" {
		t.Errorf("ReadResults after WriteResults (-want +got):\n%s", d)
	}
	first, _ := os.ReadFile(path)
	if err := WriteResults(dir, got); err != nil {
		t.Fatal(err)
	}
	if second, _ := os.ReadFile(path); !bytes.Equal(first, second) {
		t.Error("writing the same results twice gives different bytes")
	}
	for _, list := range []string{`"reasons": null`, `"bare_spots": null`, `"notes": null`, `"curve": null`, `"sheet": null`} {
		if bytes.Contains(first, []byte(list)) {
			t.Errorf("results.json has %s, want an empty list", list)
		}
	}
	for _, gap := range []string{`"bare_area_pct": null`, `"relief": null`, `"scale_mm_per_px": null`} {
		if !bytes.Contains(first, []byte(gap)) {
			t.Errorf("results.json lacks %s: what was not measured must be null", gap)
		}
	}
}

func TestResultsAreWholeOrAbsent(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "results.json"), []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	r := &inspect.Results{Schema: inspect.Schema, Limits: inspect.Limits{BareSpotMM: math.NaN()}}
	if err := WriteResults(dir, r); err == nil {
		t.Error("WriteResults of NaN succeeded, want an error")
	}
	files, _ := os.ReadDir(dir)
	if b, _ := os.ReadFile(filepath.Join(dir, "results.json")); string(b) != "old" || len(files) != 1 {
		t.Errorf("after a failed write: results.json = %q and %d files, want the old one alone", b, len(files))
	}
}

func TestReadResultsRefusesAnotherSchema(t *testing.T) {
	path := filepath.Join(t.TempDir(), "results.json")
	for in, want := range map[string]string{
		`{"schema":"jigloupe/results/2"}`: `schema is "jigloupe/results/2"`,
		`{}`:                              `schema is ""`,
		`[1]`:                             "not a results file: it can't be of type array",
		`{"schema":`:                      "not a results file",
		`{"pieces": [{"piece": true}]}`:   "not a results file: pieces.piece can't be of type bool",
		`{"pieces": 1}`:                   "not a results file: pieces can't be of type number",
	} {
		if err := os.WriteFile(path, []byte(in), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadResults(path); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("ReadResults of %s: error %v, want one with %q", in, err, want)
		}
	}
}

// TestReadersSeeWholeFiles reads while the file is replaced again and again.
func TestReadersSeeWholeFiles(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	if err := WriteResults(dir, r); err != nil {
		t.Fatal(err)
	}
	done := make(chan error)
	go func() {
		for range 50 {
			if err := WriteResults(dir, r); err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	for {
		if _, err := ReadResults(filepath.Join(dir, "results.json")); err != nil {
			t.Fatalf("while results.json is being replaced: %v", err)
		}
		select {
		case err := <-done:
			if err != nil {
				t.Fatal(err)
			}
			return
		default:
		}
	}
}
