package main

import (
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// TestHelpIsTrue: every command explains itself, and its examples can be typed
// as they stand.
func TestHelpIsTrue(t *testing.T) {
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if c.Short == "" || !c.HasExample() {
			t.Errorf("%s lacks a line about it or an example", c.CommandPath())
		}
		for example := range strings.Lines(c.Example) {
			words := shellWords(strings.TrimSpace(example))
			if words[0] != "jigloupe" {
				t.Errorf("%s: %q is no call of jigloupe", c.CommandPath(), example)
				continue
			}
			root := newRootCmd()
			found, rest, err := root.Find(words[1:])
			if err == nil {
				err = found.ParseFlags(rest)
			}
			if err == nil {
				err = found.ValidateArgs(found.Flags().Args())
			}
			if err != nil || !strings.HasPrefix(found.CommandPath(), c.CommandPath()) {
				t.Errorf("%s: the example %q is understood as %s: %v", c.CommandPath(), example, found.CommandPath(), err)
			}
		}
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(newRootCmd())
}

// shellWords splits a line at blanks outside of quotes, up to a redirection.
func shellWords(line string) []string {
	line, _, _ = strings.Cut(line, " > ")
	words := regexp.MustCompile(`([^\s"]|"[^"]*")+`).FindAllString(line, -1)
	for i := range words {
		words[i] = strings.ReplaceAll(words[i], `"`, "")
	}
	return words
}
