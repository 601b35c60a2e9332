package main

import (
	"github.com/spf13/cobra"

	"jigloupe/inspect/study"
	"jigloupe/reports"
)

func newCompareCmd() *cobra.Command {
	var by string
	var noticeable float64
	var only []string
	var output studyOutput
	cmd := &cobra.Command{
		Use:   "compare RESULTS... --by COLUMN",
		Short: "Compare groups of pieces: colour by viewing angle, and faults",
		Long: `Compare splits graded pieces by a column of their batch sheet (base, powder,
ratio, method, dips, preheat_s, cure, …) and says, in colour and for every kind
of fault, whether the groups differ, are alike, or are too few to tell, and then
how many pieces would.

RESULTS is a graded batch: its folder, or a results.json. Several are pooled; --by batch
then compares them with one another, say the same pieces before and after cure.

The piece is the sample: ten photos of one piece are still one piece.`,
		Example: `  jigloupe compare rack7 --by ratio --only "powder=dusk teal" --page ratio.html`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			pieces, err := readPieces(args, only)
			if err != nil {
				return err
			}
			c, err := study.Compare(pieces, by, noticeable)
			if err != nil {
				return err
			}
			return output.show(cmd, c, reports.ComparePage(c))
		},
	}
	cmd.Flags().StringVar(&by, "by", "", "the `column` of the batch sheet that tells the groups apart (required)")
	cmd.Flags().Float64Var(&noticeable, "noticeable", study.Noticeable, "smallest colour `difference` that matters, as ΔE00")
	cmd.Flags().StringArrayVar(&only, "only", nil, "look only at pieces with `column=value` in the batch sheet; may be repeated")
	cmd.MarkFlagRequired("by")
	output.flags(cmd)
	return cmd
}
