package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// TestManPages: each command has a page that names its flags and the commands below it,
// in which no line of text is taken for one of roff's own.
func TestManPages(t *testing.T) {
	dir := t.TempDir()
	root := newRootCmd()
	if err := writeManPages(dir, root); err != nil {
		t.Fatal(err)
	}
	macro := regexp.MustCompile(`(?m)^['.](TH .*|nh|SH [A-Z ]+|PP|TP|EX|EE|B .*|BR .*)$`)
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		page, err := os.ReadFile(filepath.Join(dir, manName(c)+".1"))
		if err != nil {
			t.Fatal(err)
		}
		text := string(page)
		allFlags(c).VisitAll(func(f *pflag.Flag) {
			if !strings.Contains(text, roff("--"+f.Name)) {
				t.Errorf("the page of %s lacks --%s", c.CommandPath(), f.Name)
			}
		})
		for line := range strings.Lines(text) {
			if (line[0] == '.' || line[0] == '\'') && !macro.MatchString(strings.TrimSuffix(line, "\n")) {
				t.Errorf("%s: %q", c.CommandPath(), line)
			}
		}
		for _, sub := range c.Commands() {
			if !strings.Contains(text, roff(manName(sub))) {
				t.Errorf("the page of %s lacks %s", c.CommandPath(), sub.Name())
			}
			walk(sub)
		}
	}
	walk(root)
	if got, want := roff(".a\n'b -c \\d"), `\&.a`+"\n"+`\&'b \-c \ed`; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
