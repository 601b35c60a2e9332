package reports

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"jigloupe/inspect"
)

// OverrulesFile lies beside results.json and outlives grading again.
const OverrulesFile = "overrules.json"

// overrulesSchema names the contract that overrules.schema.json spells out.
const overrulesSchema = "jigloupe/overrules/1"

// Overrules are what people said against the program's verdicts on a batch, in
// the order of their time.
type Overrules struct {
	Schema    string     `json:"schema"`
	Overrules []Overrule `json:"overrules"`
}

// An Overrule is a person's verdict on a piece. It stands beside the program's
// and never in its place.
type Overrule struct {
	Piece   string          `json:"piece"`
	Verdict inspect.Outcome `json:"verdict"`    // pass or fail
	Instead inspect.Outcome `json:"instead_of"` // what the program had said
	Because string          `json:"because"`
	By      string          `json:"by"`
	At      time.Time       `json:"at"`
}

// ReadOverrules reads the overrules beside the results in dir; there may be none.
func ReadOverrules(dir string) (Overrules, error) {
	all := Overrules{Schema: overrulesSchema, Overrules: []Overrule{}}
	path := filepath.Join(dir, OverrulesFile)
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

// Write replaces overrules.json in dir as a whole.
func (all Overrules) Write(dir string) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(all); err != nil {
		return err
	}
	return writeWhole(filepath.Join(dir, OverrulesFile), b.Bytes())
}

// Standing is the last overrule of each piece of r, by its name, as far as it
// still says something else than the program.
func (all Overrules) Standing(r *inspect.Results) map[string]Overrule {
	verdict := map[string]inspect.Outcome{}
	for _, p := range r.Pieces {
		verdict[p.Piece] = p.Verdict
	}
	out := map[string]Overrule{}
	for _, o := range all.Overrules {
		delete(out, o.Piece)
		if v, ok := verdict[o.Piece]; ok && v != o.Verdict {
			out[o.Piece] = o
		}
	}
	return out
}

// Disagreement says how often people and program disagree on a batch, which
// measures the program.
func Disagreement(standing map[string]Overrule, r *inspect.Results) string {
	n, decided := 0, 0
	for _, p := range r.Pieces {
		switch _, ok := standing[p.Piece]; {
		case ok && p.Verdict == inspect.Retake:
			decided++
		case ok:
			n++
		}
	}
	s := fmt.Sprintf("people disagree with the program on %d of %s", n, plural(r.Batch.Pass+r.Batch.Fail, "judged piece"))
	if decided > 0 {
		s += fmt.Sprintf(" and decided %d it could not judge", decided)
	}
	return s
}

// says names who overruled, when and why.
func (o Overrule) says() string {
	return fmt.Sprintf("%s, %s: %s", o.By, o.At.Format("2006-01-02 15:04"), o.Because)
}

func (o Overrule) headline() string { return fmt.Sprintf("Overruled: %s by %s", o.Verdict, o.says()) }
