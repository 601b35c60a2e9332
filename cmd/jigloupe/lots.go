package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"jigloupe/inspect/study"
	"jigloupe/reports"
)

func newLotsCmd() *cobra.Command {
	var size, rejects, looked int
	var aql, missed, falseAlarms float64
	var level string
	var tightened bool
	var output studyOutput
	cmd := &cobra.Command{
		Use:   "lots --size N --aql X [RESULTS...]",
		Short: "How many pieces of a lot to photograph, and whether to ship it",
		Long: `Lots gives the sampling plan for a lot: how many pieces to draw and photograph, and
with how many faulty ones it still passes (ISO 2859-1, single plans). It says in
plain words what the plan risks for whoever paints and for whoever buys.

With RESULTS, or with --rejects and --looked counted by hand, it also accepts or
refuses the lot. RESULTS is a graded batch: its folder, or a results.json; pieces to
be photographed again do not count as looked at. The exit code is 1 when the lot is
refused.

AQL is the acceptance quality limit, in faulty pieces per 100: ` + aqlWords() + `.`,
		Example: `  jigloupe lots --size 200 --aql 2.5 rack7`,
		RunE: func(cmd *cobra.Command, args []string) error {
			plan, err := study.NewSampling(size, aql, level, tightened)
			if err != nil {
				return err
			}
			oversight, err := study.NewOversight(missed, falseAlarms)
			if err != nil {
				return err
			}
			close := 0
			switch byHand := cmd.Flags().Changed("rejects"); {
			case byHand && len(args) > 0:
				return errors.New("give either RESULTS or --rejects, not both")
			case byHand && !cmd.Flags().Changed("looked"):
				looked = plan.N
			case len(args) > 0:
				pieces, err := readPieces(args, nil)
				if err != nil {
					return err
				}
				looked, rejects, close = study.Sample(pieces)
			}
			v, err := study.JudgeLot(plan, oversight, looked, rejects, close)
			if err != nil {
				return err
			}
			if err := output.show(cmd, v, reports.LotPage(v)); err != nil {
				return err
			}
			if v.Outcome == study.RefuseLot {
				return errFaults
			}
			return nil
		},
	}
	cmd.Flags().IntVar(&size, "size", 0, "`number` of pieces in the lot (required)")
	cmd.Flags().Float64Var(&aql, "aql", 0, "acceptance quality limit: the `number` of faulty pieces in a hundred (required)")
	cmd.Flags().StringVar(&level, "level", "II", "inspection `level`: S-1 to S-4, I, II or III; higher looks at more")
	cmd.Flags().BoolVar(&tightened, "tightened", false, "tightened inspection, after two of five lots were refused")
	cmd.Flags().IntVar(&rejects, "rejects", 0, "`number` of faulty pieces found, counted by hand")
	cmd.Flags().IntVar(&looked, "looked", 0, "`number` of pieces looked at, counted by hand; as many as the plan asks for if not given")
	cmd.Flags().Float64Var(&missed, "missed", 0, "faulty pieces that inspection calls good, in `%` of the faulty ones")
	cmd.Flags().Float64Var(&falseAlarms, "false-alarms", 0, "good pieces that inspection calls faulty, in `%` of the good ones")
	cmd.MarkFlagRequired("size")
	cmd.MarkFlagRequired("aql")
	output.flags(cmd)
	return cmd
}

func aqlWords() string { return strings.Trim(fmt.Sprint(study.AQLs), "[]") }
