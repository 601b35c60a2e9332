package main

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"os/exec"
	"strings"
	"testing"
)

var rewrite = flag.Bool("rewrite", false, "write what the commands in README.md print into it")

// TestReadme runs every command that stands after a $ in README.md, in order
// and in one folder, and wants the output that stands below it.
func TestReadme(t *testing.T) {
	if testing.Short() {
		t.Skip("grades the demo, which takes a while")
	}
	const name = "../../README.md"
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	const indent, prompt = "    ", "    $ "
	var out strings.Builder
	commands := 0
	lines := strings.SplitAfter(string(text), "\n")
	for i := 0; i < len(lines); {
		line := lines[i]
		i++
		out.WriteString(line)
		if !strings.HasPrefix(line, prompt) {
			continue
		}
		commands++
		command := strings.TrimSpace(strings.TrimPrefix(line, prompt))
		below := ""
		for i < len(lines) && strings.HasPrefix(lines[i], indent) && !strings.HasPrefix(lines[i], prompt) {
			below += lines[i]
			i++
		}
		printed := ""
		for l := range strings.Lines(runIn(t, dir, command)) {
			printed += indent + l
		}
		out.WriteString(printed)
		if printed != below && !*rewrite {
			t.Errorf("%s prints\n%sREADME.md has\n%s", command, printed, below)
		}
	}
	if commands == 0 {
		t.Error("README.md shows no command being run")
	}
	if *rewrite {
		if err := os.WriteFile(name, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// runIn runs a shell command and returns what it printed, blank lines left out:
// they would end the block.
func runIn(t *testing.T, dir, command string) string {
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
	kept := ""
	for l := range strings.Lines(out.String()) {
		if strings.TrimSpace(l) != "" {
			kept += l
		}
	}
	return kept
}
