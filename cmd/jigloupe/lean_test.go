//go:build !imdecode

package main

import (
	"debug/elf"
	"strings"
	"testing"
)

// Picture formats of OpenCV's, with all the libraries behind them, would be most of
// the time that the program takes to start.
func TestStartsWithoutPictureFormats(t *testing.T) {
	program, err := elf.Open("/proc/self/exe")
	if err != nil {
		t.Skip(err)
	}
	defer program.Close()
	libraries, err := program.ImportedLibraries()
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(strings.Join(libraries, " "), "opencv_core") {
		t.Fatalf("linked otherwise than expected: %q", libraries)
	}
	for _, l := range libraries {
		if strings.Contains(l, "imgcodecs") {
			t.Errorf("%s is loaded at the start", l)
		}
	}
}
