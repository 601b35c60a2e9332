package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A photo that grows for longer than settled, with pauses shorter than that,
// is not taken before it is whole.
func TestWatchWaitsForAGrowingFile(t *testing.T) {
	t.Parallel()
	w := watcher{dir: t.TempDir()}
	path := filepath.Join(w.dir, "A01_1.jpg")
	if err := os.WriteFile(path, []byte("0123456789"), 0o644); err != nil {
		t.Fatal(err)
	}
	const more = 6
	go func() {
		f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			return // the test fails for want of bytes
		}
		defer f.Close()
		for range more {
			time.Sleep(settled / 4)
			f.WriteString("0123456789")
		}
	}()
	state, err := w.atRest(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := state["A01_1.jpg"]; !strings.HasPrefix(got, "70 ") {
		t.Errorf("taken at %q bytes and time, want all 70", got)
	}
}
