package main

import (
	"errors"
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"jigloupe/inspect"
	"jigloupe/reports"
)

func newOverruleCmd() *cobra.Command {
	var because, by, batch string
	cmd := &cobra.Command{
		Use:   "overrule PIECE pass|fail --because TEXT",
		Short: "Put your own verdict on a piece beside the program's",
		Long: `Overrule keeps your verdict on a piece with your reason, your name and the time in
overrules.json beside the results, and writes page, PDF and tables anew to show it.
The program's own verdict stays as it is, and so does the exit status of grade; how
often the two disagree is counted, because it says how far the program can be trusted.

Overrule a piece again to change your mind; the last word counts.`,
		Example: `  jigloupe overrule A03 pass --because "the mark is a hair" --batch rack7`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 2 || args[1] != "pass" && args[1] != "fail" {
				return hinted{errors.New("which piece, and is it a pass or a fail?"), `for example: jigloupe overrule A03 pass --because "the mark is a hair"`}
			}
			return nil
		},
		ValidArgsFunction: func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			switch len(args) {
			case 0:
				return piecesIn(batch), cobra.ShellCompDirectiveNoFileComp
			case 1:
				return []string{"pass", "fail"}, cobra.ShellCompDirectiveNoFileComp
			}
			return nil, cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if strings.TrimSpace(because) == "" {
				return hinted{errors.New("a reason is needed"), `for example: --because "the mark is a hair"`}
			}
			path, err := resultsFile(batch)
			if err != nil {
				return err
			}
			dir := filepath.Dir(path)
			unlock, err := lockFolder(dir)
			if err != nil {
				return err
			}
			defer unlock()
			r, err := reports.ReadResults(path)
			if err != nil {
				return err
			}
			p, err := pieceNamed(r, args[0])
			if err != nil {
				return err
			}
			if by == "" {
				by = whoAmI()
			}
			all, err := reports.ReadOverrules(dir)
			if err != nil {
				return err
			}
			o := reports.Overrule{Piece: p.Piece, Verdict: inspect.Outcome(args[1]), Instead: p.Verdict, Because: strings.TrimSpace(because), By: by, At: time.Now().Truncate(time.Second)}
			all.Overrules = append(all.Overrules, o)
			if err := all.Write(dir); err != nil {
				return err
			}
			standing := all.Standing(r)
			said := fmt.Sprintf("overruled: %s", o.Verdict)
			if o.Verdict == p.Verdict {
				said = "and you say so too"
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %s, %s\n", oneLine(p.Piece), p.Verdict, said)
			fmt.Fprintln(cmd.OutOrStdout(), reports.Disagreement(standing, r))
			if err := writeReadable(dir, r, standing, reports.PaperOf(filepath.Join(dir, "report.pdf"))); err != nil {
				return hinted{fmt.Errorf("your verdict is kept, but the report could not be written anew: %w", err), "grade the batch again: its report will show it"}
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&because, "because", "", "why, in a few `words` (required)")
	cmd.Flags().StringVar(&by, "by", "", "your `name`; the one you are logged in with if not given")
	cmd.Flags().StringVar(&batch, "batch", ".", "the `folder` that was graded, or the one its results are in")
	return cmd
}

// piecesIn names the pieces of a graded batch for the shell to complete; none
// when it can't be read.
func piecesIn(batch string) []string {
	r, _, err := readBatch(batch)
	if err != nil {
		return nil
	}
	var names []string
	for _, p := range r.Pieces {
		names = append(names, p.Piece)
	}
	return names
}

func pieceNamed(r *inspect.Results, name string) (*inspect.Piece, error) {
	var names []string
	for i := range r.Pieces {
		if r.Pieces[i].Piece == name {
			return &r.Pieces[i], nil
		}
		names = append(names, r.Pieces[i].Piece)
	}
	err := fmt.Errorf("no piece is called %s in batch %s", name, r.Batch.Name)
	for _, n := range names {
		if strings.EqualFold(n, name) {
			return nil, hinted{err, "did you mean " + n + "?"}
		}
	}
	return nil, hinted{err, "its pieces are " + strings.Join(names[:min(len(names), 12)], ", ")}
}

func whoAmI() string {
	u, err := user.Current()
	if err != nil {
		return "unknown"
	}
	if name, _, _ := strings.Cut(u.Name, ","); name != "" {
		return name
	}
	return u.Username
}

// lockFolder keeps two people, or a person and a grading, from writing results
// in dir at the same time. It waits for its turn.
func lockFolder(dir string) (unlock func() error, err error) {
	d, err := os.Open(dir)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(d.Fd()), syscall.LOCK_EX); err != nil {
		d.Close()
		return nil, err
	}
	return d.Close, nil
}
