package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"jigloupe/calib"
)

// Flags and arguments that several commands take, and what they say besides results.

func cardFlag(cmd *cobra.Command, card *float64) {
	cmd.Flags().Float64Var(card, "card", calib.CardReflectance, "the `share` of light that your grey card reflects, between 0 and 1")
}

func checkCard(card float64) error {
	if !(card > 0 && card <= 1) {
		return hinted{fmt.Errorf("--card %v: a card reflects more than 0 and at most 1 of the light", card), "write an 18 % card as --card 0.18"}
	}
	return nil
}

func paperFlag(cmd *cobra.Command, paper *string, of string) {
	cmd.Flags().StringVar(paper, "paper", "A4", "`paper` of "+of+", A4 or Letter")
	cmd.RegisterFlagCompletionFunc("paper", cobra.FixedCompletions([]string{"A4", "Letter"}, cobra.ShellCompDirectiveNoFileComp))
}

func checkPaper(paper string) error {
	if paper != "A4" && paper != "Letter" {
		return fmt.Errorf("--paper %s: it is either A4 or Letter", paper)
	}
	return nil
}

func jobsFlag(cmd *cobra.Command, jobs *int) {
	cmd.Flags().IntVar(jobs, "jobs", 0, "`number` of photos measured at the same time; 0 is one per processor core")
}

func checkJobs(jobs int) error {
	if jobs < 0 {
		return fmt.Errorf("--jobs %d: at least 1 photo at a time, or 0 for one per processor core", jobs)
	}
	return nil
}

// oneFolder wants exactly one folder and says what was likely meant otherwise.
func oneFolder(cmd *cobra.Command, args []string) error {
	switch {
	case len(args) == 0:
		return hinted{errors.New("which folder?"), "for example: jigloupe " + cmd.Name() + " rack7"}
	case len(args) > 1:
		return hinted{fmt.Errorf("one folder at a time, not %d names", len(args)), "if its name has blanks, write it in quotes"}
	}
	return nil
}

// sayOn tells people something, a line each.
func sayOn(cmd *cobra.Command) func(string) {
	return func(s string) { fmt.Fprintf(cmd.ErrOrStderr(), "jigloupe: %s\n", oneLine(s)) }
}
