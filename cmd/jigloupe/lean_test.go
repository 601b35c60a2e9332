//go:build !imdecode

package main

import (
	"debug/elf"
	"strings"
	"testing"
)

// OpenCV and libheif, with all the libraries behind them, would be most of the time
// that the program takes to start.
func TestStartsLean(t *testing.T) {
	program, err := elf.Open("/proc/self/exe")
	if err != nil {
		t.Skip(err)
	}
	defer program.Close()
	libraries, err := program.ImportedLibraries()
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(strings.Join(libraries, " "), "libjpeg") {
		t.Fatalf("linked otherwise than expected: %q", libraries)
	}
	for _, l := range libraries {
		for _, left := range []string{"opencv", "heif", "tbb", "stdc++", "gcc", "libz"} {
			if strings.Contains(l, left) {
				t.Errorf("%s is loaded at the start", l)
			}
		}
	}
}
