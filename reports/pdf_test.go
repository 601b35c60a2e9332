package reports

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"jigloupe/inspect"
)

func writePDF(t *testing.T, r *inspect.Results, dir, paper string) (path string, file []byte) {
	t.Helper()
	path = filepath.Join(dir, paper+".pdf")
	if err := WritePDF(path, r, against.Standing(r), dir, paper); err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return path, file
}

func TestPDFSameBytesAndPages(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	for paper, box := range map[string]string{"A4": "[0 0 595.28 841.89]", "Letter": "[0 0 612.00 792.00]"} {
		_, first := writePDF(t, r, dir, paper)
		_, second := writePDF(t, r, dir, paper)
		if !bytes.Equal(first, second) {
			t.Errorf("%s: writing twice gives different bytes", paper)
		}
		if n := len(regexp.MustCompile(`/Type /Page\n`).FindAll(first, -1)); n != 1+len(r.Pieces) {
			t.Errorf("%s: %d pages, want a cover and %d pieces", paper, n, len(r.Pieces))
		}
		for _, want := range []string{"/MediaBox " + box, "/FontFile2", "/Lang (en)"} {
			if !bytes.Contains(first, []byte(want)) {
				t.Errorf("%s: no %s", paper, want)
			}
		}
	}
	if err := WritePDF(filepath.Join(dir, "x.pdf"), r, nil, dir, "A5"); err == nil {
		t.Error("paper A5 is accepted")
	}
}

// A printedWord is a word of a PDF, with its place in points from the top left of its page.
type printedWord struct {
	text                    string
	page                    int
	left, top, right, below float64
}

// words gives the text of a PDF with its places, as a reader of text finds it.
func words(t *testing.T, path string) (text string, boxes []printedWord) {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("no pdftotext here: apt-get install poppler-utils, then the PDF's text is read back")
	}
	out, err := exec.Command("pdftotext", "-bbox", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	page := 0
	for _, m := range regexp.MustCompile(`<page |<word xMin="([^"]+)" yMin="([^"]+)" xMax="([^"]+)" yMax="([^"]+)">([^<]*)</word>`).FindAllStringSubmatch(string(out), -1) {
		if m[5] == "" {
			page++
			continue
		}
		w := printedWord{text: m[5], page: page}
		for i, to := range []*float64{&w.left, &w.top, &w.right, &w.below} {
			if *to, err = strconv.ParseFloat(m[1+i], 64); err != nil {
				t.Fatal(err)
			}
		}
		boxes = append(boxes, w)
	}
	plain, err := exec.Command("pdftotext", "-layout", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(plain), boxes
}

func TestPDFSaysWhatMatters(t *testing.T) {
	dir := t.TempDir()
	path, _ := writePDF(t, trial(t, dir), dir, "A4")
	text, _ := words(t, path)
	for _, want := range []string{"kettle pond trial 3", "2 of 7 pass", "K04", "retake", "1.12 ± 0.18 %", "A lump 0.41 mm high on the underside; 0.25 mm is the limit.",
		"No grey card in view", "14 µm", "Travel, ΔE00", "Checked by (name, signature)", "Date", "local rules come first", `=1+2<b onclick="x()">`} {
		if !strings.Contains(text, want) {
			t.Errorf("the PDF's text lacks %q", want)
		}
	}
	if n := strings.Count(text, "Close call."); n != 5 {
		t.Errorf("%d close calls, want the 3 on their pages and the 2 that decide on the cover", n)
	}
	if n := strings.Count(text, "Checked by"); n != 8 {
		t.Errorf("%d lines to sign, want one on each of 8 pages", n)
	}
}

// TestPDFShowsFaultsEnlarged: each fault that fits the row has its number under
// it, and those of the photo with the main reason come first.
func TestPDFShowsFaultsEnlarged(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	r.Pieces = r.Pieces[5:6] // K06 has ten faults in one photo
	path, file := writePDF(t, r, dir, "A4")
	text, _ := words(t, path)
	if n := len(regexp.MustCompile(`view 1, no\. \d+\s`).FindAllString(text, -1)); n != 6 {
		t.Errorf("%d faults enlarged, want the 6 that fit", n)
	}
	if !strings.Contains(text, "more, see the page") {
		t.Error("faults that are left out are not counted")
	}
	if n := bytes.Count(file, []byte("/Subtype /Image")); n != 7 {
		t.Errorf("%d pictures, want the photo and 6 faults", n)
	}
}

// TestPDFKeepsToItsPages: a piece with more of everything than fits still takes
// one page, and nothing runs off it or into the line to sign.
func TestPDFKeepsToItsPages(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	p := r.Pieces[5]
	p.Piece = strings.Repeat("overlong name ", 30) + "\U0001f3a3\uffff"
	p.Sheet = map[string]string{"note": strings.Repeat("a long note ", 80)}
	for i := range 20 {
		p.Reasons = append(p.Reasons, inspect.Reason{Outcome: inspect.Fail, Says: strings.Repeat("says ", 90), Fix: strings.Repeat("fix ", 120) + strconv.Itoa(i)})
	}
	for range 3 {
		p.Photos = append(p.Photos, p.Photos...)
	}
	p.Photos[0].Problems = []string{strings.Repeat("unbroken", 60)}
	r.Pieces = []inspect.Piece{p}
	for range 120 {
		r.Pieces = append(r.Pieces, piece("K09", inspect.Pass, nil))
	}
	for _, paper := range []string{"A4", "Letter"} {
		path, _ := writePDF(t, r, dir, paper)
		_, boxes := words(t, path)
		wide, high := 595.28, 841.89
		if paper == "Letter" {
			wide, high = 612, 792
		}
		first := 0
		for _, w := range boxes {
			if first == 0 && w.text == "overlong" && w.page != 1 {
				first = w.page
			}
			if w.left < 40 || w.right > wide-40 || w.below > high-20 {
				t.Errorf("%s, page %d: %q runs off the page, at %.0f to %.0f, %.0f down", paper, w.page, w.text, w.left, w.right, w.below)
			}
			const sign = 17 / 25.4 * 72 // the line is 17 mm above the page's foot
			if w.below > high-sign && w.below < high-sign+5 {
				t.Errorf("%s, page %d: %q lies on the line to sign", paper, w.page, w.text)
			}
		}
		last := boxes[len(boxes)-1].page
		list := last - len(r.Pieces) // pages of cover and list
		if list < 2 || list > 5 {
			t.Errorf("%s: %d pages for %d pieces", paper, last, len(r.Pieces))
		}
		if first != list+1 {
			t.Errorf("%s: the first piece is on page %d, want %d", paper, first, list+1)
		}
	}
}

// TestPDFKeepsItsColumnsApart: what was measured wraps before what was found.
func TestPDFKeepsItsColumnsApart(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	for i := range r.Pieces {
		r.Pieces[i].Eye, r.Pieces[i].EyeHole = inspect.EyeOpen, &inspect.EyeHole{OpenPct: 100, U: 12}
	}
	path, _ := writePDF(t, r, dir, "A4")
	_, boxes := words(t, path)
	seen := 0
	for i, w := range boxes {
		if w.text == "hole" {
			seen++
		}
		for _, o := range boxes[:i] {
			haloed := w.text == o.text // drawn twice over a photo
			if !haloed && w.page == o.page && min(w.below, o.below)-max(w.top, o.top) > 3 && min(w.right, o.right)-max(w.left, o.left) > 1 {
				t.Errorf("page %d: %q lies on %q", w.page, w.text, o.text)
			}
		}
	}
	if seen == 0 {
		t.Error("no eye is described")
	}
}
