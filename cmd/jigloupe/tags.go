package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"jigloupe/calib"
	"jigloupe/inspect"
	"jigloupe/reports"
)

func newTagsCmd() *cobra.Command {
	var names, out, paper string
	var side float64
	cmd := &cobra.Command{
		Use:   "tags [BATCH]",
		Short: "Print a sheet of tags that name the piece and give the scale",
		Long: `Tags writes a PDF with a tag for each piece that the batch.csv in the folder BATCH
lists, or for each name after --names. Print it at 100 %, measure the line on it,
cut the tags out and lay each flat on the card beside its piece, in the photo.

A photo with a tag may have any name: it belongs to the piece on the tag, and it
needs no mm_per_px. A tag that contradicts the photo's name is reported.`,
		Example: `  jigloupe tags rack8
  jigloupe tags --names A01,A02,A03 --paper Letter`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 && names == "" {
				return hinted{errors.New("tags for which pieces?"), "for example: jigloupe tags rack8, with a batch.csv in rack8, or: jigloupe tags --names A01,A02"}
			}
			if len(args) > 0 && names != "" {
				return hinted{errors.New("a folder and --names are two lists of pieces"), "give one of them"}
			}
			if len(args) > 1 {
				return oneFolder(cmd, args)
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := checkPaper(paper); err != nil {
				return err
			}
			if !(side >= calib.MinTagMM && side <= calib.MaxTagMM) {
				return fmt.Errorf("--side %v: from %d to %d mm are possible", side, calib.MinTagMM, calib.MaxTagMM)
			}
			pieces := splitNames(names)
			if len(args) > 0 {
				var err error
				if pieces, err = inspect.ListedPieces(args[0]); err != nil {
					return notABatch(args[0], err)
				}
				if pieces == nil {
					return notABatch(args[0], hinted{fmt.Errorf("%s has no batch.csv", args[0]), "jigloupe start " + args[0] + " makes one; or name the pieces: --names A01,A02"})
				}
				if out == "" {
					out = filepath.Join(args[0], "tags.pdf")
				}
			}
			if len(pieces) == 0 {
				return hinted{errors.New("no piece is named"), "write the pieces into batch.csv, or after --names with commas between them"}
			}
			if out == "" {
				out = "tags.pdf"
			}
			sheet, err := reports.TagSheet(pieces, side, paper)
			if err != nil {
				return err
			}
			if err := os.WriteFile(out, sheet, 0o644); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s written with %s; print it at 100 %% and measure the line on it\n", short(out), plural(len(pieces), "tag"))
			return nil
		},
	}
	cmd.Flags().StringVar(&names, "names", "", "the pieces, with `commas` between them, instead of a folder")
	cmd.Flags().StringVar(&out, "out", "", "write the PDF to this `file`; otherwise tags.pdf in the folder")
	paperFlag(cmd, &paper, "the sheet")
	cmd.Flags().Float64Var(&side, "side", 12, "side of a code in `mm`")
	return cmd
}

// splitNames takes a list with commas apart.
func splitNames(list string) []string {
	var out []string
	for _, n := range strings.Split(list, ",") {
		if n = strings.TrimSpace(n); n != "" {
			out = append(out, n)
		}
	}
	return out
}
