package main

import (
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
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
			cmd.Root().DisableAutoGenTag = true // it would put the day into the pages
			keepLists(cmd.Root())
			header := &doc.GenManHeader{Section: "1", Source: "jigloupe " + version, Manual: "jigloupe"}
			if err := doc.GenManTree(cmd.Root(), header, args[0]); err != nil {
				return err
			}
			fmt.Fprintf(cmd.ErrOrStderr(), "jigloupe: manual pages written to %s\n", short(args[0]))
			return nil
		},
	}
}

// keepLists indents the lists in explanations by as much as Markdown, which the
// pages are made from, wants for keeping their lines apart.
func keepLists(c *cobra.Command) {
	c.Long = strings.ReplaceAll(c.Long, "\n  ", "\n    ")
	for _, sub := range c.Commands() {
		keepLists(sub)
	}
}
