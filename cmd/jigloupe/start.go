package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
)

// sheetWords explain batch.csv in itself. They hold no comma, semicolon or
// quote: a spreadsheet then saves each as it was, and it stays a comment.
const sheetWords = `# The batch sheet: a row per piece. Lines that begin with # are not read.
# piece       the name that begins its photos: A03 for A03_1.jpg and A03_2.jpg
# powder      what it was painted with. Pieces of one powder are compared
# base        cured coat under it: none or white or black
# method      fluid bed or dip or whatever you call it
# dips        how often it went into the powder
# preheat_s   how long it was heated before in seconds
# head_style  ball or bullet or what your mould makes
# note        anything you want to find again
# Add columns of your own as you like. Sizes in mm need a scale: print tags with
# jigloupe tags and lay each beside its piece. Or add a column mm_per_px: photograph
# a rule beside the piece once and divide 10 mm by the pixels they take.
`

var sheetColumns = []string{"piece", "powder", "base", "method", "dips", "preheat_s", "head_style", "note"}

func newStartCmd() *cobra.Command {
	var plan []string
	cmd := &cobra.Command{
		Use:   "start DIR",
		Short: "Make a batch folder with a commented batch sheet to fill in",
		Long: `Start makes the folder DIR, if it isn't there, and puts a batch.csv into it that
explains itself. Open it in any spreadsheet. If photos are in the folder already,
the sheet has a row for each of their pieces. An existing sheet is never touched.

With --plan, given once per treatment you want to try, the sheet lists the pieces
to paint so that each treatment can be told from the others, in the order to paint
them.`,
		Example: `  jigloupe start rack8 --plan "method=dip,fluid bed" --plan dips=1,2`,
		Args:    oneFolder,
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := args[0]
			sheet := filepath.Join(dir, "batch.csv")
			if _, err := os.Lstat(sheet); err == nil {
				return hinted{fmt.Errorf("%s is there already, nothing was changed", sheet), "fill it in, or give another folder"}
			}
			rows := [][]string{sheetColumns}
			if len(plan) > 0 {
				p, err := planned(plan)
				if err != nil {
					return err
				}
				rows = p.Records()
				fmt.Fprintf(cmd.OutOrStdout(), "%s to paint, in the order of the sheet\n", plural(len(p.Rows), "piece"))
				fmt.Fprintf(cmd.OutOrStdout(), "A fault that goes from 1 piece in 10 to 8 in 10 is found by %.0f such plans in 100.\n", 100*p.Power)
				if !p.Balanced {
					fmt.Fprintln(cmd.OutOrStdout(), "So many treatments do not balance fully in so few pieces: some will be harder to tell apart.")
				}
			} else if b, err := inspect.ReadBatch(dir); err == nil {
				for _, piece := range b.Pieces {
					rows = append(rows, append([]string{piece.Piece}, make([]string, len(sheetColumns)-1)...))
				}
			}
			if err := os.MkdirAll(dir, 0o755); err != nil {
				return err
			}
			if err := writeSheet(sheet, rows); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s written; put the photos beside it and run: jigloupe grade %s\n", short(sheet), dir)
			return nil
		},
	}
	cmd.Flags().StringArrayVar(&plan, "plan", nil, "a treatment to try and its `column=value,value`; may be repeated")
	return cmd
}

// planned turns --plan flags into a plan.
func planned(flags []string) (study.Plan, error) {
	var factors []study.Factor
	for _, f := range flags {
		column, levels, ok := strings.Cut(f, "=")
		column = strings.ToLower(strings.TrimSpace(column))
		if !ok || column == "" || column == "piece" {
			return study.Plan{}, fmt.Errorf("--plan %s: write a column and the values to try, e.g. --plan dips=1,2", f)
		}
		factor := study.Factor{Column: column}
		for _, level := range strings.Split(levels, ",") {
			if level = strings.TrimSpace(level); level != "" {
				factor.Levels = append(factor.Levels, level)
			}
		}
		factors = append(factors, factor)
	}
	return study.NewPlan(factors)
}

// writeSheet writes a new batch sheet and never over another.
func writeSheet(path string, rows [][]string) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if _, err := f.WriteString(sheetWords); err != nil {
		return err
	}
	return csv.NewWriter(f).WriteAll(rows)
}
