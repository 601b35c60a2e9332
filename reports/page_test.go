package reports

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"jigloupe/inspect"
)

func writePage(t testing.TB, r *inspect.Results, dir string) []byte {
	t.Helper()
	if err := WritePage(dir, r, against.Standing(r)); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(dir, "index.html"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

var inlined = regexp.MustCompile(`data:image/jpeg;base64,[A-Za-z0-9+/=]+`)

func TestPageGolden(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	r.Pieces = []inspect.Piece{r.Pieces[1], r.Pieces[3], r.Pieces[4]}
	count(r)
	page := writePage(t, r, dir)
	if !bytes.Equal(page, writePage(t, r, dir)) {
		t.Error("writing the same page twice gives different bytes")
	}
	// Pictures are the JPEG encoder's matter, not the page's.
	golden(t, "page.html", inlined.ReplaceAll(page, []byte("data:PICTURE")))
}

func TestPageNamesDoNothing(t *testing.T) {
	dir := t.TempDir()
	page := string(writePage(t, trial(t, dir), dir))
	for _, bad := range []string{"<b onclick", "<i>0.7", "<script>alert", "\u202e", "\u2066"} {
		if strings.Contains(page, bad) {
			t.Errorf("page contains %q unescaped", bad)
		}
	}
	for _, good := range []string{"=1&#43;2&lt;b onclick", "&lt;i&gt;0.7", "&lt;/script&gt;&lt;script&gt;alert"} {
		if !strings.Contains(page, good) {
			t.Errorf("page lacks %q: names must be shown as they are", good)
		}
	}
	// Everything the page may point at lies in it.
	for _, m := range regexp.MustCompile(`(?:src|href|url)\s*[=(]\s*["']?([^"')>\s]+)`).FindAllStringSubmatch(page, -1) {
		if !strings.HasPrefix(m[1], "#") && !strings.HasPrefix(m[1], "data:") {
			t.Errorf("page points outside itself: %s", m[0])
		}
	}
	ids := regexp.MustCompile(` id="([^"]+)"`).FindAllStringSubmatch(page, -1)
	slices.SortFunc(ids, func(a, b []string) int { return strings.Compare(a[1], b[1]) })
	for i := 1; i < len(ids); i++ {
		if ids[i][1] == ids[i-1][1] {
			t.Errorf("two elements have the id %q", ids[i][1])
		}
	}
}

func TestPageNamesTheMissingPicture(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	if err := os.Remove(filepath.Join(dir, "pictures", "K02_2.jpg")); err != nil {
		t.Fatal(err)
	}
	err := WritePage(dir, r, nil)
	if err == nil || !strings.Contains(err.Error(), "K02_2.jpg") {
		t.Errorf("WritePage without a picture: error %v, want one that names K02_2.jpg", err)
	}
	if _, err := os.Stat(filepath.Join(dir, "index.html")); err == nil {
		t.Error("a page was left behind although it could not be made")
	}
}

func TestPageOfEmptyBatch(t *testing.T) {
	dir := t.TempDir()
	r := &inspect.Results{Schema: inspect.Schema, Pieces: []inspect.Piece{{Piece: "A01", Verdict: inspect.Retake}}}
	count(r)
	if page := writePage(t, r, dir); !bytes.Contains(page, []byte("No reason was given")) {
		t.Error("a piece without photos and reasons is not shown as such")
	}
}

func TestSummary(t *testing.T) {
	r := trial(t, t.TempDir())
	s := summarise(r, nil)
	if s.Headline != "2 of 7 pass" {
		t.Errorf("headline %q, want %q", s.Headline, "2 of 7 pass")
	}
	// K02 and the hostile piece; K02 shows the spot near the eye twice and the piece once more.
	top := s.Failing[0]
	if top.Word != "bare spots" || len(top.Pieces) != 2 || top.Where[0] != "on the parting line near the eye" {
		t.Errorf("fails most: %+v, want bare spots in 2 pieces, first on the parting line near the eye", top)
	}
	if len(s.CloseFor) != 3 {
		t.Errorf("close calls: %v, want K03, K05 and the hostile piece", s.CloseFor)
	}
	for _, a := range s.Next {
		if a.Do == "A second photo with only the lamp moved would settle it." {
			t.Error("what to do next has the advice of a passing piece")
		}
	}
	var base treatment
	for _, g := range s.Groups {
		if g.Column == "base" {
			base = g
		}
	}
	if want := (treatmentRow{"none", 1, 1, 0}); !slices.Contains(base.Rows, want) {
		t.Errorf("by base: %v, want a row %v (K02 failed, K05 passed)", base.Rows, want)
	}
}

func TestMainReason(t *testing.T) {
	unseen := inspect.Reason{Measure: "pinholes_unseen", Outcome: inspect.Pass, Says: "Pinholes could hide."}
	close := inspect.Reason{Measure: "bare_area", Outcome: inspect.Pass, CloseCall: true, Says: "Nearly bare."}
	fail := inspect.Reason{Measure: "eye", Outcome: inspect.Fail, Says: "Blocked."}
	for _, c := range []struct {
		verdict inspect.Outcome
		reasons []inspect.Reason
		want    string
	}{
		{inspect.Pass, nil, ""},
		{inspect.Pass, []inspect.Reason{unseen}, ""},
		{inspect.Pass, []inspect.Reason{unseen, close}, "Nearly bare."},
		{inspect.Fail, []inspect.Reason{unseen, close, fail}, "Blocked."},
	} {
		r, ok := MainReason(&inspect.Piece{Verdict: c.verdict, Reasons: c.reasons})
		if r.Says != c.want || ok != (c.want != "") {
			t.Errorf("MainReason of a %s with %v = %q, want %q", c.verdict, c.reasons, r.Says, c.want)
		}
	}
	p := &inspect.Piece{Verdict: inspect.Pass, Reasons: []inspect.Reason{unseen}}
	if !slices.Contains(unseenIn(p), "Pinholes could hide.") {
		t.Error("what a pass could not show is not listed")
	}
}
