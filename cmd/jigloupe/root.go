package main

import (
	"github.com/spf13/cobra"
)

func newRootCmd() *cobra.Command {
	root := &cobra.Command{
		Use:   "jigloupe",
		Short: "Grade the finish of powder-painted jig heads from photos on a grey card",
		Long: `Jigloupe looks at photos of cured, powder-painted jig heads lying on an 18 % grey
card and says, piece by piece, whether the lead is covered everywhere, whether the
film is smooth, whether the line-tie eye is open and how the colour travels with
the viewing angle. It writes a page with the evidence.

See it at work with nothing prepared:  jigloupe demo`,
		Example:       `  jigloupe grade rack7`,
		Version:       version,
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.SetVersionTemplate("jigloupe {{.Version}}\n")
	root.AddGroup(
		&cobra.Group{ID: "grade", Title: "Photograph and grade:"},
		&cobra.Group{ID: "study", Title: "Learn from graded batches:"},
		&cobra.Group{ID: "setup", Title: "Set up:"},
	)
	cobra.EnableCommandSorting = false // the order in which they are needed
	for _, group := range []struct {
		id   string
		cmds []*cobra.Command
	}{
		{"grade", []*cobra.Command{newDemoCmd(), newStartCmd(), newTagsCmd(), newSetupCmd(), newCheckCmd(), newGradeCmd(), newWatchCmd(), newOverruleCmd()}},
		{"study", []*cobra.Command{newCompareCmd(), newBaseCmd(), newProcessCmd(), newRepeatCmd(), newCardCmd(), newLotsCmd(), newHistoryCmd()}},
		{"setup", []*cobra.Command{newLimitsCmd(), newFleetCmd(), newWorkerCmd(), newManCmd(), newCompletionCmd()}},
	} {
		for _, c := range group.cmds {
			c.GroupID = group.id
			root.AddCommand(c)
		}
	}
	root.CompletionOptions.DisableDefaultCmd = true // there is one in plainer words
	needsCommand(root)
	root.SetFlagErrorFunc(flagError)
	plainHelp(root)
	plainArgs(root)
	return root
}
