package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
	"jigloupe/reports"
)

// studyOutput are the flags of every study: how its answer is wanted.
type studyOutput struct {
	json bool
	page string
}

func (o *studyOutput) flags(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&o.json, "json", false, "print the numbers as JSON instead of sentences")
	cmd.Flags().StringVar(&o.page, "page", "", "also write the answer with its pictures as a page to this `file`, e.g. study.html")
}

// show prints the answer and writes its page when one is wanted.
func (o *studyOutput) show(cmd *cobra.Command, answer any, page reports.StudyPage) error {
	if o.page != "" {
		if err := page.WriteHTML(o.page); err != nil {
			return err
		}
		fmt.Fprintf(cmd.ErrOrStderr(), "jigloupe: page written to %s\n", o.page)
	}
	if o.json {
		return printJSON(cmd, answer)
	}
	return page.WriteText(cmd.OutOrStdout(), terminalWidth)
}

const terminalWidth = 88

func printJSON(cmd *cobra.Command, v any) error {
	out := json.NewEncoder(cmd.OutOrStdout())
	out.SetEscapeHTML(false)
	out.SetIndent("", "  ")
	return out.Encode(v)
}

// readPieces reads graded batches and keeps the pieces that only, written column=value, asks for.
func readPieces(names []string, only []string) ([]inspect.Piece, error) {
	batches, err := readBatches(names)
	if err != nil {
		return nil, err
	}
	pieces := study.Pool(batches...)
	for _, o := range only {
		column, value, ok := strings.Cut(o, "=")
		if !ok {
			return nil, fmt.Errorf("--only %s: write it as column=value, e.g. --only powder=moss", o)
		}
		if pieces = study.Only(pieces, column, value); len(pieces) == 0 {
			return nil, fmt.Errorf("--only %s: no piece has that in its batch sheet", o)
		}
	}
	return pieces, nil
}

func readBatches(names []string) ([]inspect.Results, error) {
	var batches []inspect.Results
	for _, name := range names {
		r, _, err := readBatch(name)
		if err != nil {
			return nil, err
		}
		batches = append(batches, *r)
	}
	return batches, nil
}

// readBatch reads a graded batch, named as resultsFile takes it, and says in which
// folder its results are.
func readBatch(name string) (r *inspect.Results, dir string, err error) {
	path, err := resultsFile(name)
	if err != nil {
		return nil, "", err
	}
	r, err = reports.ReadResults(path)
	return r, filepath.Dir(path), err
}

// resultsFile finds the results of a graded batch. It may be named by its
// folder of photos, by the folder it was graded into, or by its results.json.
func resultsFile(name string) (string, error) {
	info, err := os.Stat(name)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return "", hinted{fmt.Errorf("there is no graded batch %s", name), checkSpelling}
	case err != nil || !info.IsDir():
		return name, err
	}
	for _, dir := range []string{name, filepath.Join(name, "jigloupe")} {
		path := filepath.Join(dir, "results.json")
		if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
			return path, err
		}
	}
	return "", hinted{fmt.Errorf("no results are in %s", name), "name the folder that was graded, or grade it first: jigloupe grade " + name}
}
