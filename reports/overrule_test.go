package reports

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

func TestOverrulesAreKept(t *testing.T) {
	dir := t.TempDir()
	if none, err := ReadOverrules(dir); err != nil || len(none.Overrules) != 0 {
		t.Errorf("without a file: %v, %v, want none and no error", none, err)
	}
	if err := against.Write(dir); err != nil {
		t.Fatal(err)
	}
	got, err := ReadOverrules(dir)
	if err != nil || len(got.Overrules) != len(against.Overrules) {
		t.Fatalf("read back: %v, %v", got, err)
	}
	for i, o := range got.Overrules {
		want := against.Overrules[i]
		if !o.At.Equal(want.At) || o.says() != want.says() || o.Verdict != want.Verdict || o.Instead != want.Instead {
			t.Errorf("read back %+v, want %+v", o, want)
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, OverrulesFile))
	if err != nil {
		t.Fatal(err)
	}
	s := compiled(t, "overrules.schema.json")
	if err := validText(s, string(text)); err != nil {
		t.Errorf("overrules.json: %v", err)
	}
	for _, bad := range [][2]string{{`"pass"`, `"retake"`}, {`"Ana"`, `3`}, {"overrules/1", "overrules/2"}, {"2026-03-14T", "14 March "}} {
		if validText(s, strings.Replace(string(text), bad[0], bad[1], 1)) == nil {
			t.Errorf("%s in place of %s passes the schema", bad[1], bad[0])
		}
	}
	if err := os.WriteFile(filepath.Join(dir, OverrulesFile), []byte(`{"schema": "jigloupe/overrules/2"}`), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadOverrules(dir); err == nil || !strings.Contains(err.Error(), "overrules/2") {
		t.Errorf("another schema: error %v, want one that names it", err)
	}
}

func validText(s *jsonschema.Schema, text string) error {
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		return err
	}
	return s.Validate(doc)
}

func TestStanding(t *testing.T) {
	r := trial(t, t.TempDir())
	var got []string
	standing := against.Standing(r)
	for _, p := range r.Pieces {
		if o, ok := standing[p.Piece]; ok {
			got = append(got, p.Piece+" "+string(o.Verdict))
		}
	}
	if want := []string{"K02 pass", "K04 fail", hostile + " pass"}; !reflect.DeepEqual(got, want) {
		t.Errorf("standing: %q, want %q", got, want)
	}
	// 6 of the 7 pieces are judged, K04 is to be photographed again.
	if got, want := Disagreement(standing, r), "people disagree with the program on 2 of 6 judged pieces and decided 1 it could not judge"; got != want {
		t.Errorf("Disagreement = %q, want %q", got, want)
	}
	last := against
	last.Overrules = append(last.Overrules[:1:1], last.Overrules[0])
	last.Overrules[1].Verdict = r.Pieces[1].Verdict
	if n := len(last.Standing(r)); n != 0 {
		t.Errorf("a person who takes an overrule back still disagrees on %d pieces", n)
	}
}

// TestOverrulesStandBeside: page, PDF and table show both verdicts, and the
// counts stay the program's.
func TestOverrulesStandBeside(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	page := string(writePage(t, r, dir))
	for _, want := range []string{`data-verdict="fail overruled"`, "<b>Overruled: pass</b> by <bdi>Ana, 2026-03-14 12:00: grease, it wipes off</bdi>",
		"people disagree with the program on 2 of 6", "<option>overruled</option>", "&lt;i&gt;fine&lt;/i&gt;", "2 of 7 pass"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if err := WriteCSV(dir, r, against.Standing(r)); err != nil {
		t.Fatal(err)
	}
	for _, row := range readTable(t, filepath.Join(dir, "pieces.csv")) {
		want := map[string]string{"K02": "fail pass Ana 2026-03-14 12:00 grease, it wipes off", "K04": "retake fail Ana 2026-03-14 12:00 the eye is shut, I looked", "K05": "pass    "}
		got := strings.Join([]string{row["verdict"], row["overruled to"], row["overruled by"], row["overruled at"], row["overruled because"]}, " ")
		if w, ok := want[row["piece"]]; ok && got != w {
			t.Errorf("%s: %q, want %q", row["piece"], got, w)
		}
		if strings.HasPrefix(row["piece"], "'=") && (row["overruled by"] != "'@Bo" || !strings.HasPrefix(row["overruled because"], "'=1+1")) {
			t.Errorf("overruled by %q because %q would run in a spreadsheet", row["overruled by"], row["overruled because"])
		}
	}
	path, _ := writePDF(t, r, dir, "A4")
	text, _ := words(t, path)
	for _, want := range []string{"people disagree with the program on 2 of 6", "Overruled: pass by Ana, 2026-03-14 12:00: grease, it wipes off", "Overruled: fail by Ana"} {
		if n := strings.Count(text, want); n < 1 || strings.HasPrefix(want, "Overruled: ") && n != 2 {
			t.Errorf("the PDF says %q %d times, want it on cover and piece", want, n)
		}
	}
}

func TestPaperOf(t *testing.T) {
	dir := t.TempDir()
	for _, paper := range []string{"A4", "Letter"} {
		path, _ := writePDF(t, trial(t, dir), dir, paper)
		if got := PaperOf(path); got != paper {
			t.Errorf("PaperOf a PDF on %s = %s", paper, got)
		}
	}
	if got := PaperOf(filepath.Join(dir, "none.pdf")); got != "A4" {
		t.Errorf("PaperOf no PDF = %s, want A4", got)
	}
}
