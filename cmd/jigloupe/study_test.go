package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"jigloupe/inspect"
	"jigloupe/reports"
)

// gradedBatch writes the results of an invented batch: twelve pieces over three
// bases, bare spots fewer with two dips, white lighter than the others.
func gradedBatch(t *testing.T, name string) string {
	t.Helper()
	r := inspect.Results{Schema: inspect.Schema, Batch: inspect.Batch{Name: name}}
	for i := range 12 {
		base, dips := []string{"none", "white", "black"}[i%3], 1+i/3%2
		bare := 1.5/float64(dips*dips) + 0.01*float64(i)
		p := inspect.Piece{Piece: fmt.Sprintf("A%02d", i+1), Verdict: inspect.Pass, Eye: inspect.EyeOpen,
			Sheet:    map[string]string{"powder": "moss", "base": base, "dips": fmt.Sprint(dips), "order": "1042"},
			Photos:   []inspect.Photo{{File: fmt.Sprintf("A%02d_1.jpg", i+1)}},
			Coverage: &inspect.Coverage{BareAreaPct: &bare}, Travel: &inspect.Travel{Light: "diffuse"}}
		if bare > 0.5 {
			p.Verdict, p.Reasons = inspect.Fail, []inspect.Reason{{Measure: "bare_area", Outcome: inspect.Fail}}
		}
		for deg := 5.0; deg < 80; deg += 10 {
			l := 60 - deg/3 + 0.2*float64(i%4)
			if base == "white" {
				l += 5
			}
			p.Travel.Curve = append(p.Travel.Curve, inspect.TravelBin{ViewingDeg: deg, L: l, A: -10, B: 20 - deg/10, Px: 500})
		}
		r.Pieces = append(r.Pieces, p)
	}
	dir := t.TempDir()
	if err := reports.WriteResults(dir, &r); err != nil {
		t.Fatal(err)
	}
	return dir
}

// runStudy runs a command and returns what it printed.
func runStudy(cmd *cobra.Command, args ...string) (string, error) {
	var out bytes.Buffer
	cmd.SetOut(&out)
	cmd.SetErr(&bytes.Buffer{})
	cmd.SilenceUsage = true
	cmd.SetArgs(args)
	err := cmd.Execute()
	return out.String(), err
}

func TestStudyCommands(t *testing.T) {
	dir := gradedBatch(t, "rack 7")
	for _, c := range []struct {
		cmd  func() *cobra.Command
		args []string
		want string // in the answer
	}{
		{newCompareCmd, []string{dir, "--by", "base"}, "By base: the colour differs in 2 of 3 pairs"},
		{newCompareCmd, []string{filepath.Join(dir, "results.json"), gradedBatch(t, "rack 8"), "--by", "batch", "--only", "base=white"}, "By batch:"},
		{newBaseCmd, []string{dir}, "moss: white base."},
		{newProcessCmd, []string{dir}, "Bare spots go with dips."},
		{newLotsCmd, []string{"--size", "50", "--aql", "2.5"}, "look at 5 of the 50 pieces"},
		{newLotsCmd, []string{"--size", "50", "--aql", "2.5", dir}, "Refuse the lot: 6 of 12"},
		{newLotsCmd, []string{"--size", "50", "--aql", "2.5", "--rejects", "0"}, "Accept the lot: 0 of 5"},
		{newLotsCmd, []string{"--size", "50", "--aql", "2.5", "--rejects", "0", "--looked", "3", "--missed", "10"}, "look at 2 more"},
	} {
		name := fmt.Sprint(c.cmd().Name(), c.args)
		page := filepath.Join(t.TempDir(), "study.html")
		out, err := runStudy(c.cmd(), append(c.args, "--page", page)...)
		if (err != nil && !errors.Is(err, errFaults)) || !strings.Contains(strings.Join(strings.Fields(out), " "), c.want) {
			t.Errorf("%s: %v\n%s\nwant %q", name, err, out, c.want)
		}
		if b, err := os.ReadFile(page); err != nil || !bytes.Contains(b, []byte("</html>")) {
			t.Errorf("%s: page: %v", name, err)
		}
		out, err = runStudy(c.cmd(), append(c.args, "--json")...)
		if err != nil && !errors.Is(err, errFaults) {
			t.Errorf("%s --json: %v", name, err)
		}
		if err := followsSchema(c.cmd().Name(), out); err != nil {
			t.Errorf("%s --json: %v\n%s", name, err, out)
		}
	}
}

// A script must see from the exit code that a lot is refused.
func TestRefusedLotIsNoSuccess(t *testing.T) {
	for rejects, want := range map[string]error{"0": nil, "1": errFaults} {
		if out, err := runStudy(newLotsCmd(), "--size", "50", "--aql", "2.5", "--rejects", rejects); err != want || out == "" {
			t.Errorf("%s faulty of 5: %v, want %v\n%s", rejects, err, want, out)
		}
	}
}

func TestStudyCommandsRefuse(t *testing.T) {
	dir := gradedBatch(t, "rack 7")
	for _, c := range []struct {
		cmd  func() *cobra.Command
		args []string
		want string
	}{
		{newCompareCmd, []string{dir}, "by"},
		{newCompareCmd, []string{dir, "--by", "colour"}, "there are: base, dips, order, powder"},
		{newCompareCmd, []string{"missing", "--by", "base"}, "missing"},
		{newCompareCmd, []string{dir, "--by", "base", "--only", "powder"}, "column=value"},
		{newCompareCmd, []string{dir, "--by", "base", "--only", "powder=teal"}, "no piece"},
		{newBaseCmd, []string{dir, "--only", "base=white"}, "no powder"},
		{newLotsCmd, []string{"--size", "50", "--aql", "3"}, "choose one of"},
		{newLotsCmd, []string{"--size", "50", "--aql", "4", dir, "--rejects", "1"}, "not both"},
		{newLotsCmd, []string{"--size", "50", "--aql", "4", "--missed", "120"}, "less than 100"},
	} {
		if out, err := runStudy(c.cmd(), c.args...); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %v: %v, want %q\n%s", c.cmd().Name(), c.args, err, c.want, out)
		}
	}
}

func TestHistoryCommands(t *testing.T) {
	dir, db := gradedBatch(t, "rack 7"), filepath.Join(t.TempDir(), "h.db")
	for _, step := range []struct {
		args []string
		want string // in what it prints, or in the error when it begins with "error: "
	}{
		{[]string{"list"}, "The history is empty."},
		{[]string{"add", dir, "--date", "2026-03-14"}, "batch 1, rack 7: added (12 pieces)"},
		{[]string{"add", dir, "--date", "2026-03-14"}, "was there already"},
		{[]string{"add", dir, "--date", "14.3.26"}, "error: year-month-day"},
		{[]string{"list"}, "2026-03-14"},
		{[]string{"find", "order"}, "0 pieces found."},
		{[]string{"find", "1042", "white"}, "4 pieces found."},
		{[]string{"find", "--like", "1/A02", "--most", "2"}, "of rack 7, ΔE00 0.2 over the curve"},
		{[]string{"find", "--like", "9/A02"}, "error: no batch 9"},
		{[]string{"trend", "--fault", "bare spots"}, "6 of 12"},
		{[]string{"trend", "--fault", "dents"}, "error: no chart of"},
		{[]string{"list", "--json"}, `"name": "rack 7"`},
		{[]string{"find", "1042", "white", "--json"}, `"A02"`},
		{[]string{"find", "--like", "1/A02", "--json"}, `"A05"`},
		{[]string{"trend", "--json"}, "bare spot"},
		{[]string{"export"}, ",rack 7,2026-03-1"},
		{[]string{"export", "1"}, `"schema": "jigloupe/results/1"`},
		{[]string{"delete", "1"}, "error: --yes"},
		{[]string{"delete", "one", "--yes"}, "error: no batch number"},
		{[]string{"delete", "1", "--yes"}, "batch 1, rack 7: deleted"},
		{[]string{"list"}, "The history is empty."},
	} {
		out, err := runStudy(newHistoryCmd(), append(step.args, "--db", db)...)
		want, refused := strings.CutPrefix(step.want, "error: ")
		if refused && err != nil {
			out, err = err.Error(), nil
		} else if refused {
			err = fmt.Errorf("want an error")
		}
		if err != nil || !strings.Contains(out, want) {
			t.Errorf("history %v: %v\n%s\nwant %q", step.args, err, out, step.want)
		}
		if slices.Contains(step.args, "--json") {
			answer := "history_" + step.args[0]
			if slices.Contains(step.args, "--like") {
				answer = "history_like"
			}
			if err := followsSchema(answer, out); err != nil {
				t.Errorf("history %v: %v\n%s", step.args, err, out)
			}
		}
	}
}
