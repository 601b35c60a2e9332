package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"jigloupe/inspect/study"
	"jigloupe/reports"
)

func newRepeatCmd() *cobra.Command {
	var pieces []string
	var save string
	var output studyOutput
	cmd := &cobra.Command{
		Use:   "repeat RESULTS...",
		Short: "How far the same piece scatters when it is placed and shot again",
		Long: `Repeat asks how well the whole set-up repeats: card, lamp, hand and program. Place one
piece, photograph it, lift it, place it again the same side up, six times or more, as
D01_1.jpg, D01_2.jpg and so on; grade the folder; then run this on it. It tells the
scatter of every measure, and of the colour at each viewing angle.

To tell people or sessions apart, photograph two pieces or more and say in the column
operator (or session) of photos.csv who shot each photo, everyone each piece twice or
more. Several RESULTS without that column count as a session each.

With --save the scatter goes into a file. Lying in a batch's folder as repeat.json, or
given to grade with --repeat, it becomes part of the doubt of every verdict there.`,
		Example: `  jigloupe repeat tryout --save rack7/repeat.json`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			batches, err := readBatches(args)
			if err != nil {
				return err
			}
			s, err := study.Repeats(batches, pieces)
			if err != nil {
				return err
			}
			if err := output.show(cmd, s, reports.RepeatPage(s)); err != nil || save == "" {
				return err
			}
			if err := reports.WriteRepeatability(save, &s.Found); err != nil {
				return err
			}
			fmt.Fprintf(cmd.ErrOrStderr(), "jigloupe: repeatability saved to %s\n", save)
			return nil
		},
	}
	cmd.Flags().StringArrayVar(&pieces, "piece", nil, "look only at the `piece` of this name; may be repeated")
	cmd.Flags().StringVar(&save, "save", "", "save the scatter to this `file` for grade, e.g. rack7/repeat.json")
	output.flags(cmd)
	return cmd
}
