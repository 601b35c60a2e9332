package main

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// The go tool reads the same out of this program.
func TestBuildID(t *testing.T) {
	name, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command("go", "tool", "buildid", name).Output()
	if err != nil {
		t.Skip("needs the go tool")
	}
	if got, want := buildID(name), strings.TrimSpace(string(said)); got != want || got == "" {
		t.Errorf("build %q, go tool buildid says %q", got, want)
	}
	if got := buildID("again_test.go"); got != "" {
		t.Errorf("a text is build %q", got)
	}
}
