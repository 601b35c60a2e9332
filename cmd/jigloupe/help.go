package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// plainHelp makes the help of a command and of those below it read as the rest
// of the program does.
func plainHelp(root *cobra.Command) {
	root.PersistentFlags().BoolP("help", "h", false, "explain this command")
	root.Flags().BoolP("version", "v", false, "print the version")
	root.SetUsageFunc(usage)
	root.SetHelpCommand(newHelpCmd())
}

// usage prints how a command is called, an example, and what it takes.
func usage(c *cobra.Command) error {
	w := c.OutOrStderr()
	fmt.Fprintf(w, "Usage:\n  %s\n", callOf(c))
	if c.HasExample() {
		fmt.Fprintf(w, "\nExamples:\n%s\n", c.Example)
	}
	groups := c.Groups()
	if len(groups) == 0 && c.HasAvailableSubCommands() {
		groups = []*cobra.Group{{Title: "Commands:"}}
	}
	for _, g := range groups {
		fmt.Fprintf(w, "\n%s\n", g.Title)
		for _, sub := range c.Commands() {
			if sub.GroupID == g.ID && sub.IsAvailableCommand() {
				fmt.Fprintf(w, "  %-11s %s\n", sub.Name(), sub.Short)
			}
		}
	}
	fmt.Fprintf(w, "\nFlags:\n%s", allFlags(c).FlagUsagesWrapped(100))
	if c.HasAvailableSubCommands() {
		fmt.Fprintf(w, "\n%s COMMAND --help tells the rest.\n", c.CommandPath())
	}
	return nil
}

// callOf is how a command is called.
func callOf(c *cobra.Command) string {
	if c.HasAvailableSubCommands() {
		return c.CommandPath() + " COMMAND"
	}
	return c.UseLine()
}

// allFlags are those of a command, and those of the commands above that it takes, too.
func allFlags(c *cobra.Command) *pflag.FlagSet {
	all := pflag.NewFlagSet("", pflag.ContinueOnError)
	all.AddFlagSet(c.LocalFlags())
	all.AddFlagSet(c.InheritedFlags())
	return all
}

func newHelpCmd() *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Explain a command",
		Long:    `Help explains a command, as its flag --help does.`,
		Example: `  jigloupe help grade`,
		RunE: func(cmd *cobra.Command, args []string) error {
			about, rest, err := cmd.Root().Find(args)
			if err != nil {
				return err
			}
			switch {
			case len(rest) == 0:
				return about.Help()
			case about.HasSubCommands():
				return about.Args(about, rest) // says which was meant
			}
			return hinted{fmt.Errorf("%s has no commands of its own", about.CommandPath()), "jigloupe help " + about.Name()}
		},
	}
}

func newCompletionCmd() *cobra.Command {
	shells := map[string]func(root *cobra.Command, cmd *cobra.Command) error{
		"bash":       func(root, cmd *cobra.Command) error { return root.GenBashCompletionV2(cmd.OutOrStdout(), true) },
		"zsh":        func(root, cmd *cobra.Command) error { return root.GenZshCompletion(cmd.OutOrStdout()) },
		"fish":       func(root, cmd *cobra.Command) error { return root.GenFishCompletion(cmd.OutOrStdout(), true) },
		"powershell": func(root, cmd *cobra.Command) error { return root.GenPowerShellCompletionWithDesc(cmd.OutOrStdout()) },
	}
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "Print the script that lets your shell complete commands and flags",
		Long: `Completion prints a script for your shell: bash, zsh, fish or powershell. With it, the
key Tab completes commands, flags and the names of pieces. Load it once for good:

  bash        jigloupe completion bash > ~/.local/share/bash-completion/completions/jigloupe
  zsh         jigloupe completion zsh > "${fpath[1]}/_jigloupe"
  fish        jigloupe completion fish > ~/.config/fish/completions/jigloupe.fish
  powershell  jigloupe completion powershell >> $PROFILE`,
		Example:   `  jigloupe completion bash`,
		ValidArgs: []string{"bash", "zsh", "fish", "powershell"},
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 && shells[args[0]] != nil {
				return nil
			}
			return hinted{fmt.Errorf("for which shell? %s", strings.Join(cmd.ValidArgs, ", ")), "for example: jigloupe completion bash"}
		},
		RunE: func(cmd *cobra.Command, args []string) error { return shells[args[0]](cmd.Root(), cmd) },
	}
}
