package fleet

import (
	"os"
	"path/filepath"
	"testing"
)

// A new worker removes what killed ones left, and nothing of those that live.
func TestScratchOfKilledWorkersGoes(t *testing.T) {
	parent := t.TempDir()
	alive, err := newScratch(parent)
	if err != nil {
		t.Fatal(err)
	}
	killed, other := filepath.Join(parent, scratchPrefix+"1"), filepath.Join(parent, "mine")
	for _, dir := range []string{killed, other} {
		if err := os.Mkdir(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "A01_1.jpg"), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(other, filepath.Join(parent, scratchPrefix+"2")); err != nil {
		t.Fatal(err)
	}
	s, err := newScratch(parent)
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]bool{alive.dir: true, s.dir: true, killed: false, filepath.Join(other, "A01_1.jpg"): true} {
		if _, err := os.Stat(path); (err == nil) != want {
			t.Errorf("%s is there: %v, want %v", path, err == nil, want)
		}
	}
	s.remove()
	alive.remove()
	if left, err := filepath.Glob(filepath.Join(parent, scratchPrefix+"*")); err != nil || len(left) > 0 {
		t.Errorf("%v is left, %v", left, err)
	}
}
