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
	for id, cmds := range map[string][]*cobra.Command{
		"grade": {newDemoCmd(), newStartCmd(), newTagsCmd(), newSetupCmd(), newCheckCmd(), newGradeCmd(), newWatchCmd(), newOverruleCmd()},
		"study": {newCompareCmd(), newBaseCmd(), newProcessCmd(), newRepeatCmd(), newCardCmd(), newLotsCmd(), newHistoryCmd()},
		"setup": {newLimitsCmd(), newFleetCmd(), newWorkerCmd(), newManCmd()},
	} {
		for _, c := range cmds {
			c.GroupID = id
			root.AddCommand(c)
		}
	}
	root.SetHelpCommandGroupID("setup")
	root.SetCompletionCommandGroupID("setup")
	needsCommand(root)
	root.SetFlagErrorFunc(flagError)
	return root
}
