package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"unicode"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// hinted is an error with a next step.
type hinted struct {
	error
	hint string
}

func (h hinted) Unwrap() error { return h.error }

const checkSpelling = "check the spelling, and that you are in the folder you think you are in"

// hint is what a person could do about an error of a command, "" when the error
// says it.
func hint(c *cobra.Command, err error) string {
	elsewhere := ""
	for _, name := range []string{"out", "db"} {
		if c.Flags().Lookup(name) != nil {
			elsewhere = ", or name another place with --" + name
		}
	}
	var h hinted
	switch {
	case errors.As(err, &h):
		return h.hint
	case errors.Is(err, syscall.ENOSPC):
		return "make room" + elsewhere + "; earlier results are as they were"
	case errors.Is(err, syscall.EROFS), errors.Is(err, syscall.EFBIG):
		return "write elsewhere" + elsewhere
	case errors.Is(err, os.ErrPermission):
		return "change its permissions" + elsewhere
	case errors.Is(err, os.ErrNotExist):
		return checkSpelling
	}
	return ""
}

// inWords is an error with what the operating system says of a file in plain words.
func inWords(err error) string {
	var file *os.PathError
	if !errors.As(err, &file) {
		return err.Error()
	}
	path, _, _ := strings.Cut(short(file.Path), string(filepath.Separator)+stageName)
	said := ""
	switch {
	case errors.Is(file, syscall.ENOSPC):
		said = "the disk is full: " + path + " can't be written"
	case errors.Is(file, syscall.EFBIG):
		said = path + " can't be written: the file would be larger than is allowed here"
	case errors.Is(file, syscall.EROFS):
		said = "the disk can only be read: " + path + " can't be written"
	case errors.Is(file, os.ErrPermission):
		said = "no permission to open or write " + path
	case errors.Is(file, os.ErrNotExist):
		said = "there is no file or folder " + path
	case errors.Is(file, syscall.EISDIR):
		said = path + " is a folder, not a file"
	case errors.Is(file, syscall.ENOTDIR):
		said = "a file is where a folder should be: " + path
	default:
		return err.Error()
	}
	return strings.Replace(err.Error(), file.Error(), said, 1)
}

// oneLine keeps a message on one line and free of what a terminal would obey,
// wherever its parts came from.
func oneLine(s string) string {
	s = strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == '\n' || r == '\r' }), "; ")
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, s)
}

// needsCommand makes a command that only holds others refuse words it does not
// know, with the nearest one it does.
func needsCommand(c *cobra.Command) {
	c.RunE = func(c *cobra.Command, args []string) error { return c.Help() }
	c.Args = func(c *cobra.Command, args []string) error {
		if len(args) == 0 {
			return nil
		}
		err := fmt.Errorf("%q is not a command of %s", args[0], c.CommandPath())
		if info, stat := os.Stat(args[0]); stat == nil && info.IsDir() && !c.HasParent() {
			return hinted{err, "to grade the photos in that folder: jigloupe grade " + args[0]}
		}
		var names []string
		for _, sub := range c.Commands() {
			if sub.IsAvailableCommand() {
				names = append(names, sub.Name())
			}
		}
		if near := nearest(args[0], names); near != "" {
			return hinted{err, fmt.Sprintf("did you mean %s %s?", c.CommandPath(), near)}
		}
		return hinted{err, c.CommandPath() + " --help lists them"}
	}
}

// plainArgs makes a command and those below it say in plain words which names
// and flags are missing or too many.
func plainArgs(c *cobra.Command) {
	for _, sub := range c.Commands() {
		plainArgs(sub)
	}
	check := c.Args
	if check == nil {
		check = cobra.ArbitraryArgs
	}
	c.Args = func(c *cobra.Command, args []string) error {
		example, _, _ := strings.Cut(strings.TrimSpace(c.Example), "\n")
		err := check(c, args)
		var told hinted
		switch {
		case err == nil:
		case errors.As(err, &told):
			return err
		case len(args) == 0:
			return hinted{fmt.Errorf("something is missing: %s", c.UseLine()), "for example: " + example}
		default:
			return hinted{fmt.Errorf("%q is one too many: %s", args[len(args)-1], c.UseLine()), "for example: " + example}
		}
		var missing *pflag.Flag
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if missing == nil && !f.Changed && f.Annotations[cobra.BashCompOneRequiredFlag] != nil {
				missing = f
			}
		})
		if missing != nil {
			return hinted{fmt.Errorf("--%s is missing: %s", missing.Name, strings.ReplaceAll(strings.TrimSuffix(missing.Usage, " (required)"), "`", "")), "for example: " + example}
		}
		return nil
	}
}

// flagError says what is wrong with a flag and which was probably meant.
func flagError(c *cobra.Command, err error) error {
	help := c.CommandPath() + " --help lists what it takes"
	var unknown *pflag.NotExistError
	var wrong *pflag.InvalidValueError
	var missing *pflag.ValueRequiredError
	switch {
	case errors.As(err, &missing):
		return hinted{fmt.Errorf("--%s needs something after it", missing.GetFlag().Name), help}
	case errors.As(err, &wrong):
		wanted := map[string]string{"int": "a whole number", "float64": "a number", "bool": "true or false"}[wrong.GetFlag().Value.Type()]
		if strings.ContainsAny(wrong.GetValue(), ",%") {
			help = "write numbers like 0.5: with a point, without a unit"
		}
		return hinted{fmt.Errorf("--%s %s: %s is wanted", wrong.GetFlag().Name, wrong.GetValue(), wanted), help}
	case !errors.As(err, &unknown):
		return hinted{err, help}
	}
	name, dashes := unknown.GetSpecifiedName(), "--"
	if short := unknown.GetSpecifiedShortnames(); short != "" {
		name, dashes = short, "-" // -out, with one dash
	}
	var names []string
	c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	if near := nearest(name, names); near != "" {
		help = fmt.Sprintf("did you mean --%s?", near)
	}
	return hinted{fmt.Errorf("there is no flag %s%s", dashes, name), help}
}

// nearest is the name that takes the fewest typing errors to become word, ""
// when all take more than a third of its letters, and more than one.
func nearest(word string, names []string) string {
	best, fewest := "", max(1, len(word)/3)+1
	for _, n := range names {
		if d := typos(strings.ToLower(word), n); d < fewest {
			best, fewest = n, d
		}
	}
	return best
}

// typos is the least number of letters inserted, left out, replaced or swapped
// with their neighbour that makes b of a.
func typos(a, b string) int {
	rows := make([][]int, len(a)+1)
	for i := range rows {
		rows[i] = make([]int, len(b)+1)
		for j := range rows[i] {
			if i == 0 || j == 0 {
				rows[i][j] = i + j
				continue
			}
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(a)][len(b)]
}

// short is a path as a person would type it, relative to where the
// person is.
func short(path string) string {
	here, err := os.Getwd()
	if err != nil {
		return path
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	if rel, err := filepath.Rel(here, abs); err == nil && !strings.HasPrefix(rel, "..") {
		return rel
	}
	return path
}
