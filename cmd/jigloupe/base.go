package main

import (
	"github.com/spf13/cobra"

	"jigloupe/inspect/study"
	"jigloupe/reports"
)

func newBaseCmd() *cobra.Command {
	var noticeable float64
	var only []string
	var output studyOutput
	cmd := &cobra.Command{
		Use:   "base RESULTS...",
		Short: "Does this powder need a base coat, and which?",
		Long: `Base looks at pieces of one powder painted straight on metal, over a cured white
base and over a cured black base (column "base" of the batch sheet: none, white,
black). It gives the contrast ratio at every viewing angle, 0.98 and above being a
coat that hides what is under it, says how much bare metal the pieces without a
base show, and advises: straight on metal, white base or black base, and why.

Three pieces of each, photographed in the same light, are a good start.`,
		Example: `  jigloupe base rack7 --page base.html`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			pieces, err := readPieces(args, only)
			if err != nil {
				return err
			}
			studies, err := study.Bases(pieces, noticeable)
			if err != nil {
				return err
			}
			return output.show(cmd, studies, reports.BasePage(studies, noticeable))
		},
	}
	cmd.Flags().Float64Var(&noticeable, "noticeable", study.Noticeable, "smallest colour `difference` that matters, as ΔE00")
	cmd.Flags().StringArrayVar(&only, "only", nil, "look only at pieces with `column=value` in the batch sheet; may be repeated")
	output.flags(cmd)
	return cmd
}
