package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// progressOn shows how far the grading is on one line of the terminal, and
// nothing at all where nobody watches.
func progressOn(cmd *cobra.Command, quiet bool) func(stage string, done, of int) {
	f, ok := cmd.ErrOrStderr().(*os.File)
	if quiet || !ok || !term.IsTerminal(int(f.Fd())) {
		return func(string, int, int) {}
	}
	return progressLine(f)
}

func progressLine(w io.Writer) func(stage string, done, of int) {
	const wide = 40
	return func(stage string, done, of int) {
		switch stage {
		case "photos":
			fmt.Fprintf(w, "\r%-*s", wide, fmt.Sprintf("jigloupe: photo %d of %d", done, of))
		case "report":
			fmt.Fprintf(w, "\r%-*s", wide, "jigloupe: writing the report")
		case "done":
			fmt.Fprintf(w, "\r%s\r", strings.Repeat(" ", wide))
		}
	}
}
