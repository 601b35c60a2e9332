package main

import (
	"github.com/spf13/cobra"

	"jigloupe/inspect/study"
	"jigloupe/reports"
)

func newProcessCmd() *cobra.Command {
	var only []string
	var output studyOutput
	cmd := &cobra.Command{
		Use:   "process RESULTS...",
		Short: "Which treatment goes with which fault, and what to paint next to be sure",
		Long: `Process sets every treatment in the batch sheet that varies (method, dips,
preheat_s, base, …) against every kind of fault, with tests that are exact for few
pieces. Where two treatments changed together it says so instead of guessing, and
it proposes a small balanced set of pieces to paint next that would tell them apart.`,
		Example: `  jigloupe process rack7 --page process.html`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			pieces, err := readPieces(args, only)
			if err != nil {
				return err
			}
			s, err := study.Process(pieces)
			if err != nil {
				return err
			}
			return output.show(cmd, s, reports.ProcessPage(s))
		},
	}
	cmd.Flags().StringArrayVar(&only, "only", nil, "look only at pieces with `column=value` in the batch sheet; may be repeated")
	output.flags(cmd)
	return cmd
}
