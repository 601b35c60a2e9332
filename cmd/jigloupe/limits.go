package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"jigloupe/inspect"
	"jigloupe/reports"
)

func newLimitsCmd() *cobra.Command {
	var from []string
	cmd := &cobra.Command{
		Use:   "limits",
		Short: "Print a commented limits file to start from",
		Long: `Limits prints the ordinary limits as a file with comments. Save it, change what your
customers want otherwise, and grade with --limits and its name.

With --from it learns the limits from graded pieces that you call good, twenty or
more if you can: with 95 % confidence, 99 in 100 pieces like them keep to each. A
piece that somebody overruled to a fail is left out; any other counts as good,
whatever the program said of it.`,
		Example: `  jigloupe limits --from good > ours.toml`,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			limits, head := inspect.DefaultLimits(), ""
			if len(from) > 0 {
				good, err := goodPieces(from)
				if err != nil {
					return err
				}
				var sources []string
				limits, sources = inspect.LearnLimits(good)
				head = "# Learnt from " + plural(len(good), "piece") + ":\n#   " + strings.Join(sources, "\n#   ") + "\n\n"
			}
			_, err := fmt.Fprint(cmd.OutOrStdout(), head+inspect.LimitsFile(limits))
			return err
		},
	}
	cmd.Flags().StringArrayVar(&from, "from", nil, "learn from the good pieces in this graded `folder`; may be repeated")
	return cmd
}

// goodPieces are those of graded batches that nobody called bad.
func goodPieces(batches []string) ([]inspect.Piece, error) {
	var good []inspect.Piece
	for _, b := range batches {
		r, dir, err := readBatch(b)
		if err != nil {
			return nil, err
		}
		people, err := reports.ReadOverrules(dir)
		if err != nil {
			return nil, err
		}
		bad := map[string]bool{}
		for _, o := range people.Overrules {
			bad[o.Piece] = o.Verdict == inspect.Fail // the last word counts
		}
		for _, p := range r.Pieces {
			if !bad[p.Piece] {
				good = append(good, p)
			}
		}
	}
	return good, nil
}
