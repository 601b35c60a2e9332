package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"jigloupe/inspect"
)

func newLimitsCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "limits",
		Short: "Print a commented limits file to start from",
		Long: `Limits prints the ordinary limits as a file with comments. Save it, change what your
customers want otherwise, and grade with --limits and its name.`,
		Example: `  jigloupe limits > strict.toml`,
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			_, err := fmt.Fprint(cmd.OutOrStdout(), inspect.LimitsFile(inspect.DefaultLimits()))
			return err
		},
	}
}
