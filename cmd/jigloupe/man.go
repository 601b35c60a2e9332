package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

func newManCmd() *cobra.Command {
	return &cobra.Command{
		Use:     "man DIR",
		Short:   "Write the manual pages into a folder",
		Long:    `Man writes a manual page for jigloupe and one for each of its commands into DIR.`,
		Example: `  jigloupe man ~/.local/share/man/man1`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return err
			}
			if err := writeManPages(args[0], cmd.Root()); err != nil {
				return err
			}
			fmt.Fprintf(cmd.ErrOrStderr(), "jigloupe: manual pages written to %s\n", short(args[0]))
			return nil
		},
	}
}

// writeManPages writes the pages of a command and of those below it.
func writeManPages(dir string, c *cobra.Command) error {
	if err := os.WriteFile(filepath.Join(dir, manName(c)+".1"), []byte(manPage(c)), 0o644); err != nil {
		return err
	}
	for _, sub := range c.Commands() {
		if err := writeManPages(dir, sub); err != nil {
			return err
		}
	}
	return nil
}

// manPage says in roff what a command's help says. Cobra's own pages, made by way of
// Markdown, bring three modules into the program that are made ready at each of its
// starts, a tenth of --help.
func manPage(c *cobra.Command) string {
	var b strings.Builder
	fmt.Fprintf(&b, ".TH %s 1 \"\" \"jigloupe %s\" jigloupe\n.nh\n", strings.ToUpper(roff(manName(c))), version)
	fmt.Fprintf(&b, ".SH NAME\n%s \\- %s\n", roff(manName(c)), roff(c.Short))
	fmt.Fprintf(&b, ".SH SYNOPSIS\n.B %s\n", roff(callOf(c)))
	b.WriteString(".SH DESCRIPTION\n")
	for block := range strings.SplitSeq(c.Long, "\n\n") {
		if strings.HasPrefix(block, " ") {
			fmt.Fprintf(&b, ".PP\n.EX\n%s\n.EE\n", roff(block))
		} else {
			fmt.Fprintf(&b, ".PP\n%s\n", roff(block))
		}
	}
	if c.HasAvailableSubCommands() {
		b.WriteString(".SH COMMANDS\n")
	}
	for _, sub := range c.Commands() {
		fmt.Fprintf(&b, ".TP\n.BR %s (1)\n%s\n", roff(manName(sub)), roff(sub.Short))
	}
	b.WriteString(".SH OPTIONS\n")
	allFlags(c).VisitAll(func(f *pflag.Flag) {
		takes, about := pflag.UnquoteUsage(f)
		name := "--" + f.Name
		if f.Shorthand != "" {
			name = "-" + f.Shorthand + ", " + name
		}
		fmt.Fprintf(&b, ".TP\n\\fB%s\\fR \\fI%s\\fR\n%s", roff(name), roff(takes), roff(about))
		if f.DefValue != "" && f.DefValue != "0" && f.DefValue != "false" && f.DefValue != "[]" {
			fmt.Fprintf(&b, " (default %s)", roff(f.DefValue))
		}
		b.WriteString("\n")
	})
	fmt.Fprintf(&b, ".SH EXAMPLES\n.EX\n%s\n.EE\n", roff(c.Example))
	if c.HasParent() {
		fmt.Fprintf(&b, ".SH SEE ALSO\n.BR %s (1)\n", roff(manName(c.Parent())))
	}
	return b.String()
}

func manName(c *cobra.Command) string { return strings.ReplaceAll(c.CommandPath(), " ", "-") }

// roff makes a text stand for itself in roff, where a dot or an apostrophe begins a
// line of commands and a minus is a hyphen.
func roff(text string) string {
	text = strings.NewReplacer(`\`, `\e`, "-", `\-`, "\n.", "\n\\&.", "\n'", "\n\\&'").Replace(text)
	if strings.HasPrefix(text, ".") || strings.HasPrefix(text, "'") {
		text = `\&` + text
	}
	return text
}
