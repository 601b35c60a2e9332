package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"

	"github.com/spf13/cobra"

	"jigloupe/cmd/jigloupe/fleet"
	"jigloupe/inspect"
)

func newGradeCmd() *cobra.Command {
	var g gradeFlags
	var asJSON, strict bool
	cmd := &cobra.Command{
		Use:   "grade BATCH",
		Short: "Grade a folder of photos, piece by piece",
		Long: `Grade reads the photos lying directly in the folder BATCH, named PIECE_VIEW.jpg
(A03_1.jpg, A03_2.jpg), measures each, and judges each piece by all its photos. It
prints a line per piece and writes into BATCH/jigloupe, or where --out says:

  index.html     everything on one page: open it in a browser
  report.pdf     a page per piece, for printing and signing
  annotated/     each photo's head with what was found drawn on it
  pieces.csv, faults.csv, travel.txt    the numbers, for other programs
  results.json, masks/, pictures/       what all of this is made from

It ends with 0 when every piece passes, 1 when some piece fails or has to be
photographed again, and 2 when it could not run; then earlier results are as they
were. Graded again, or after it was stopped, a batch is measured only where photos
or batch sheet have changed; other limits need no photo.`,
		Example: `  jigloupe grade rack7 --limits strict.toml`,
		Args:    oneFolder,
		RunE: func(cmd *cobra.Command, args []string) error {
			work, err := g.grading(cmd, args[0])
			if err != nil {
				return err
			}
			r, overruled, err := work.run(cmd.Context())
			if err != nil {
				return err
			}
			if asJSON {
				results, err := os.ReadFile(filepath.Join(work.outDir(), "results.json"))
				if err != nil {
					return err
				}
				cmd.OutOrStdout().Write(results)
			} else {
				printTable(cmd.OutOrStdout(), r, overruled)
			}
			if n := withoutScale(r); n > 0 {
				g.say(cmd, "no scale for %s: limits in mm were not applied there; lay a tag beside the piece (jigloupe tags), or give mm_per_px in photos.csv or batch.csv", plural(n, "photo"))
			}
			g.say(cmd, "report written to %s", short(filepath.Join(work.outDir(), "index.html")))
			return verdictError(r, strict)
		},
	}
	g.flags(cmd)
	fleetFlags(cmd, &g.fleet, "have the pieces graded by a fleet of machines")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print results.json instead of the table")
	cmd.Flags().BoolVar(&strict, "strict", false, "end with 1 also when a piece passes only as a close call")
	return cmd
}

// verdictError is nil when every piece passes; strictly, only when none of
// them is a close call.
func verdictError(r *inspect.Results, strict bool) error {
	if r.Batch.Pass < len(r.Pieces) || strict && closeCalls(r) > 0 {
		return errFaults
	}
	return nil
}

// withoutScale counts the usable photos that nothing could be sized in.
func withoutScale(r *inspect.Results) int {
	n := 0
	for _, p := range r.Pieces {
		for _, ph := range p.Photos {
			if ph.Usable && ph.ScaleMMPerPx == nil {
				n++
			}
		}
	}
	return n
}

// gradeFlags are the flags of every command that grades.
type gradeFlags struct {
	out    string
	limits string
	card   float64
	repeat string
	jobs   int
	paper  string
	quiet  bool
	fleet  fleet.Options
}

func (f *gradeFlags) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.out, "out", "", "write the results to this `folder`, new or graded into before")
	cmd.Flags().StringVar(&f.limits, "limits", "", "judge by the limits in this `file`; jigloupe limits prints one to start from")
	cmd.Flags().StringVar(&f.repeat, "repeat", "", "count in the scatter that jigloupe repeat saved to this `file`; without the flag, repeat.json of the batch's folder if it is there")
	cardFlag(cmd, &f.card)
	jobsFlag(cmd, &f.jobs)
	paperFlag(cmd, &f.paper, "report.pdf")
	cmd.Flags().BoolVar(&f.quiet, "quiet", false, "say nothing besides the results")
}

// grading turns the flags into work on a batch.
func (f *gradeFlags) grading(cmd *cobra.Command, batch string) (grading, error) {
	g := grading{batch: batch, out: f.out, card: f.card, jobs: f.jobs, paper: f.paper, progress: progressOn(cmd, f.quiet), contents: &contents{},
		fleet: f.fleet, say: func(s string) { f.say(cmd, "%s", s) }}
	if err := checkCard(f.card); err != nil {
		return g, err
	}
	if err := checkPaper(f.paper); err != nil {
		return g, err
	}
	if err := checkJobs(f.jobs); err != nil {
		return g, err
	}
	if f.limits != "" {
		l, err := inspect.ReadLimits(f.limits)
		if err != nil {
			return g, err
		}
		g.limits = &l
	}
	var err error
	g.repeat, err = f.readRepeat(batch)
	return g, err
}

// readRepeat is the scatter to count in, nil when none was given or found.
func (f *gradeFlags) readRepeat(batch string) (*inspect.Repeatability, error) {
	if f.repeat != "" {
		return inspect.ReadRepeatability(f.repeat)
	}
	r, err := inspect.ReadRepeatability(filepath.Join(batch, "repeat.json"))
	if errors.Is(err, os.ErrNotExist) || errors.Is(err, syscall.ENOTDIR) {
		return nil, nil
	}
	return r, err
}

// say tells the person something that is no result.
func (f *gradeFlags) say(cmd *cobra.Command, format string, args ...any) {
	if !f.quiet {
		sayOn(cmd)(fmt.Sprintf(format, args...))
	}
}
