package reports

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"jigloupe/inspect"
)

func TestTablesGolden(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	if err := WriteCSV(dir, r, against.Standing(r)); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"pieces.csv", "faults.csv"} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		golden(t, name, b)
	}
}

// readTable gives the rows of a table as maps by heading.
func readTable(t *testing.T, path string) []map[string]string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	b, marked := bytes.CutPrefix(b, []byte("\xef\xbb\xbf"))
	if !marked {
		t.Errorf("%s: no byte order mark, spreadsheets will garble µ", path)
	}
	rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, v := range row {
			m[rows[0][i]] = v
		}
		out = append(out, m)
	}
	return out
}

func TestTablesSayWhatWasMeasured(t *testing.T) {
	dir := t.TempDir()
	if err := WriteCSV(dir, trial(t, dir), nil); err != nil {
		t.Fatal(err)
	}
	pieces := readTable(t, filepath.Join(dir, "pieces.csv"))
	for _, c := range []struct {
		row        int
		head, want string
	}{
		{1, "bare area (%)", "1.12"}, {1, "outline deviation (mm)", "-0.11"}, {1, "preheat_s", "6"}, {1, "bare spots", "4"},
		{3, "bare area (%)", ""}, {3, "lumps", ""}, {3, "bare spots", ""}, {3, "usable photos", "0"}, // nothing was measured on K04
		{4, "bare area (mm²)", ""}, {4, "bare area (%)", "0.44"}, // K05 has no scale
		{5, "pinholes", "7"}, {5, "travel to (°)", "75"},
	} {
		if got, ok := pieces[c.row][c.head]; got != c.want || !ok {
			t.Errorf("pieces.csv, %s: %q is %q, want %q", pieces[c.row]["piece"], c.head, got, c.want)
		}
	}
	faults := readTable(t, filepath.Join(dir, "faults.csv"))
	if len(faults) != 4+4+1+10+2 { // K02 to K07, counted in trial; one of K03 is cleared
		t.Errorf("faults.csv has %d rows, want 21", len(faults))
	}
	if got := faults[4]["height (mm)"] + " " + faults[4]["fault"]; got != "0.41 lump" {
		t.Errorf("first fault of K03 is %q, want %q", got, "0.41 lump")
	}
}

// A spot that may be bare is no bare spot, and is not left out.
func TestDoubtfulSpotsAreTabled(t *testing.T) {
	dir := t.TempDir()
	ph := inspect.Photo{File: "a_1.jpg", Usable: true, Eye: inspect.EyeOpen, DarkSpots: []inspect.BareSpot{{Number: 1, Shows: inspect.MetalOrGloss, DiameterMM: new(0.6), DiameterU: new(0.12)}}}
	r := &inspect.Results{Pieces: []inspect.Piece{{Piece: "a", Verdict: inspect.Retake, Photos: []inspect.Photo{ph}}}}
	if err := WriteCSV(dir, r, nil); err != nil {
		t.Fatal(err)
	}
	faults := readTable(t, filepath.Join(dir, "faults.csv"))
	if last := faults[len(faults)-1]; last["fault"] != "doubtful spot" || last["shows"] != inspect.MetalOrGloss || last["across u (mm)"] != "0.12" {
		t.Errorf("the row says %q", last)
	}
	if got, want := photoWords(&ph), "no bare spots, no relief faults, 1 doubtful spot, eye open."; got != want {
		t.Errorf("photoWords = %q, want %q", got, want)
	}
}

// What only a refused photo shows was not judged: that goes before a pass's close call.
func TestRefusedPhotoBesideAPass(t *testing.T) {
	p := &inspect.Piece{Verdict: inspect.Pass, Reasons: []inspect.Reason{
		{Measure: "photo", Outcome: inspect.Retake, Says: "refused"},
		{Measure: "bare_spot", Outcome: inspect.Pass, CloseCall: true, Says: "close"},
	}}
	if got := why(p); got != "refused" {
		t.Errorf("why = %q", got)
	}
}

func TestTablesRunNothing(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	for _, bad := range []string{"=1+2", "+1", "-1", "@a", "\t=1", "\r=1", "\n=1", " =1", "a;=1", "a;\t@b", "＝1", "\u202e=1", "\"=1"} {
		p := piece(bad, inspect.Fail, map[string]string{"powder": bad, "note": bad})
		p.Reasons = []inspect.Reason{{Outcome: inspect.Fail, Says: bad}}
		p.Photos = []inspect.Photo{{File: bad, View: bad, BareSpots: []inspect.BareSpot{{Place: bad, Shows: bad}}, ReliefFaults: []inspect.ReliefFault{{Kind: bad}}}}
		r.Pieces = append(r.Pieces, p)
	}
	r.Batch.Columns = append(r.Batch.Columns, "=column")
	if err := WriteCSV(dir, r, against.Standing(r)); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"pieces.csv", "faults.csv"} {
		rows := readTable(t, filepath.Join(dir, name))
		for i, row := range rows {
			for head, cell := range row {
				for _, part := range append(strings.Split(cell, ";"), head) {
					part = strings.TrimSpace(part)
					if _, err := strconv.ParseFloat(part, 64); err == nil && head != "piece" && head != "powder" && head != "note" && head != "place" {
						continue // a negative number
					}
					if strings.IndexAny(part, "=+-@＝＋－＠\t\r\n") == 0 {
						t.Errorf("%s, row %d, %q: the cell %q would be run", name, i, head, cell)
					}
				}
			}
		}
	}
}
