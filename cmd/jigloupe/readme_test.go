package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestReadme runs every command that stands after a $ in README.md, in order
// and in one folder, and wants the output that stands below it. Three dots
// stand for any text: what a small change of a measure may move.
func TestReadme(t *testing.T) {
	if testing.Short() {
		t.Skip("grades the demo, which takes a while")
	}
	t.Parallel()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	const indent, prompt = "    ", "    $ "
	commands := 0
	lines := strings.SplitAfter(string(text), "\n")
	for i := 0; i < len(lines); {
		command, ok := strings.CutPrefix(strings.TrimRight(lines[i], "\n"), prompt)
		i++
		if !ok {
			continue
		}
		commands++
		want := ""
		for i < len(lines) && strings.HasPrefix(lines[i], indent) && !strings.HasPrefix(lines[i], prompt) {
			want += strings.TrimPrefix(lines[i], indent)
			i++
		}
		shape := strings.ReplaceAll(regexp.QuoteMeta(want), `\.\.\.`, `(.|\n)*?`)
		got, status := runIn(t, dir, command)
		if strings.HasPrefix(command, "jigloupe demo") && status != exitFaults {
			t.Errorf("%s ends with %d, not as a batch with bad pieces does", command, status)
		}
		if !regexp.MustCompile(`^` + shape + `$`).MatchString(got) {
			t.Errorf("%s prints\n%sREADME.md has\n%s", command, got, want)
		}
	}
	if commands == 0 {
		t.Error("README.md shows no command being run")
	}
	for _, name := range []string{"results.json", "index.html"} { // of the demo
		if info, err := os.Stat(filepath.Join(dir, "rack", "jigloupe", name)); err != nil || info.Size() == 0 {
			t.Errorf("the demo left no %s: %v", name, err)
		}
	}
}

// runIn runs a shell command and returns what it printed, blank lines left out:
// they would end the block.
func runIn(t *testing.T, dir, command string) (kept string, status int) {
	t.Helper()
	cmd := exec.Command("sh", "-c", command)
	cmd.Dir = dir
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !(errors.As(err, &exit) && exit.ExitCode() == exitFaults) {
		t.Fatalf("%s: %v\n%s", command, err, complaint.String())
	}
	for l := range strings.Lines(out.String()) {
		if strings.TrimSpace(l) != "" {
			kept += l
		}
	}
	return kept, cmd.ProcessState.ExitCode()
}
