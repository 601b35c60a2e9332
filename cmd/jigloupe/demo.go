package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"jigloupe/inspect/scene"
)

func newDemoCmd() *cobra.Command {
	var g gradeFlags
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Draw an invented batch of photos and grade it",
		Long: `Demo draws photos of twelve invented pieces, good ones, faulty ones and one that
nobody could judge, into the folder jigloupe-demo or where --out says, and grades
them like photos of your own. Nothing has to be prepared; it takes about a minute.

Some of the pieces are bad, so it ends with 1, as grade does.`,
		Example: `  jigloupe demo --out try`,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := g.out
			if dir == "" {
				dir = "jigloupe-demo"
			}
			if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
				if !drawnBefore(dir) {
					return hinted{fmt.Errorf("%s already holds other files, such as %s", dir, entries[0].Name()), "choose a new or empty folder with --out"}
				}
			} else if err != nil && !errors.Is(err, os.ErrNotExist) {
				return err
			}
			g.out = ""
			work, err := g.grading(cmd, dir)
			if err != nil {
				return err
			}
			g.say(cmd, "drawing the photos of %s", dir)
			if err := scene.WriteDemo(dir); err != nil {
				return err
			}
			r, overruled, err := work.run(cmd.Context())
			if err != nil {
				return err
			}
			printTable(cmd.OutOrStdout(), r, overruled)
			g.say(cmd, "open %s in a browser", short(filepath.Join(work.outDir(), "index.html")))
			return verdictError(r, false)
		},
	}
	g.flags(cmd)
	cmd.Flags().Lookup("out").Usage = "draw the photos into this `folder`; the results go into the folder jigloupe inside it"
	return cmd
}

// drawnBefore tells whether a folder holds the demo, whole or half drawn.
func drawnBefore(dir string) bool {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return false
	}
	ours := map[string]bool{"batch.csv": true, "photos.csv": true, "jigloupe": true}
	for _, s := range scene.Demo() {
		ours[s.File] = true
	}
	for _, e := range entries {
		if !ours[e.Name()] {
			return false
		}
	}
	return true
}
