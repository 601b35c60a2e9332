package main

import (
	"encoding/json"
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

// overrulesFile lies beside results.json and outlives grading again.
const overrulesFile = "overrules.json"

// An overrule is a person's verdict on a piece, kept beside the program's and
// never in its place.
type overrule struct {
	Piece   string          `json:"piece"`
	Verdict inspect.Outcome `json:"verdict"`
	Instead inspect.Outcome `json:"instead_of"` // what the program had said
	Because string          `json:"because"`
	By      string          `json:"by"`
	At      time.Time       `json:"at"`
}

// overrules is the content of the file, in the order of their time. The last
// one about a piece counts.
type overrules struct {
	Schema    string     `json:"schema"`
	Overrules []overrule `json:"overrules"`
}

const overrulesSchema = "jigloupe/overrules/1"

func newOverruleCmd() *cobra.Command {
	var because, by, batch string
	cmd := &cobra.Command{
		Use:   "overrule PIECE pass|fail --because TEXT",
		Short: "Put your own verdict on a piece beside the program's",
		Long: `Overrule keeps your verdict on a piece with your reason, your name and the time in
overrules.json beside the results. The program's own verdict stays as it is, and
so does the exit status of grade; how often the two disagree is counted, because
it says how far the program can be trusted.

Overrule a piece again to change your mind; the last word counts.`,
		Example: `  jigloupe overrule A03 pass --because "the mark is a hair" --batch rack7`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 2 || args[1] != "pass" && args[1] != "fail" {
				return hinted{errors.New("which piece, and is it a pass or a fail?"), `for example: jigloupe overrule A03 pass --because "the mark is a hair"`}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if strings.TrimSpace(because) == "" {
				return hinted{errors.New("a reason is needed"), `for example: --because "the mark is a hair"`}
			}
			dir, r, err := resultsIn(batch)
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
			o := overrule{p.Piece, inspect.Outcome(args[1]), p.Verdict, strings.TrimSpace(because), by, time.Now().Truncate(time.Second)}
			all, err := addOverrule(dir, o)
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %s, overruled: %s\n", oneLine(p.Piece), p.Verdict, o.Verdict)
			fmt.Fprintln(cmd.OutOrStdout(), disagreement(all.latest(r), r))
			return nil
		},
	}
	cmd.Flags().StringVar(&because, "because", "", "why, in a few `words` (required)")
	cmd.Flags().StringVar(&by, "by", "", "your `name`; the one you are logged in with if not given")
	cmd.Flags().StringVar(&batch, "batch", ".", "the `folder` that was graded, or the one its results are in")
	return cmd
}

// resultsIn finds the results of a batch in its folder or in the folder
// jigloupe inside it.
func resultsIn(dir string) (string, *inspect.Results, error) {
	for _, d := range []string{dir, filepath.Join(dir, "jigloupe")} {
		r, err := reports.ReadResults(filepath.Join(d, "results.json"))
		if !errors.Is(err, os.ErrNotExist) {
			return d, r, err
		}
	}
	return "", nil, hinted{fmt.Errorf("no results are in %s", dir), "name the folder that was graded, or grade it first: jigloupe grade " + dir}
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

// readOverrules reads the overrules beside results; there may be none.
func readOverrules(dir string) (overrules, error) {
	all := overrules{Schema: overrulesSchema, Overrules: []overrule{}}
	path := filepath.Join(dir, overrulesFile)
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) || errors.Is(err, syscall.ENOTDIR) {
		return all, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &all)
	}
	if err == nil && all.Schema != overrulesSchema {
		err = fmt.Errorf("schema is %q, this program reads %q", all.Schema, overrulesSchema)
	}
	if err != nil {
		return all, fmt.Errorf("%s: %w", path, err)
	}
	return all, nil
}

// addOverrule appends one to the file. The file is replaced as a whole and
// under a lock, so that two people at once lose nothing.
func addOverrule(dir string, o overrule) (overrules, error) {
	d, err := os.Open(dir)
	if err != nil {
		return overrules{}, err
	}
	defer d.Close() // and with it the lock
	if err := syscall.Flock(int(d.Fd()), syscall.LOCK_EX); err != nil {
		return overrules{}, err
	}
	all, err := readOverrules(dir)
	if err != nil {
		return all, err
	}
	all.Overrules = append(all.Overrules, o)
	text, err := json.MarshalIndent(all, "", "  ")
	if err != nil {
		return all, err
	}
	path := filepath.Join(dir, overrulesFile)
	if err := os.WriteFile(path+".new", append(text, '\n'), 0o644); err != nil {
		return all, err
	}
	return all, os.Rename(path+".new", path)
}

// latest is the last overrule of each piece of r that still says something
// else than the program.
func (all overrules) latest(r *inspect.Results) map[string]overrule {
	verdict := map[string]inspect.Outcome{}
	for _, p := range r.Pieces {
		verdict[p.Piece] = p.Verdict
	}
	out := map[string]overrule{}
	for _, o := range all.Overrules {
		delete(out, o.Piece)
		if v, ok := verdict[o.Piece]; ok && v != o.Verdict {
			out[o.Piece] = o
		}
	}
	return out
}

// disagreement counts how often people and program disagree on a batch.
func disagreement(latest map[string]overrule, r *inspect.Results) string {
	judged := r.Batch.Pass + r.Batch.Fail
	n := 0
	for _, o := range latest {
		if o.Instead != inspect.Retake {
			n++
		}
	}
	s := fmt.Sprintf("people disagree with the program on %d of %s", n, plural(judged, "judged piece"))
	if more := len(latest) - n; more > 0 {
		s += fmt.Sprintf(" and decided %d it could not judge", more)
	}
	return s
}
