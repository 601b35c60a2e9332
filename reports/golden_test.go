package reports

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the files in testdata that tests compare with")

// golden compares got with a kept file. On a difference the new text is left
// beside the old one, to be looked at before -update makes it the kept one.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	kept := filepath.Join("testdata", name)
	fresh := filepath.Join("testdata", "new."+name)
	if *update {
		os.Remove(fresh)
		if err := os.WriteFile(kept, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(kept)
	if err == nil && bytes.Equal(got, want) {
		os.Remove(fresh)
		return
	}
	if werr := os.WriteFile(fresh, got, 0o644); werr != nil {
		t.Fatal(werr)
	}
	t.Errorf("%s differs from what was written now: compare with %s, then run with -update if it is right (%v)", kept, fresh, err)
}
