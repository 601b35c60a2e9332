package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"jigloupe/inspect"
	"jigloupe/reports"
)

func TestEvidenceNames(t *testing.T) {
	long := strings.Repeat("a", 246) + "é_1"
	for _, c := range []struct {
		files []string
		want  map[string]string
	}{
		{[]string{"A03_1.jpg", "A03_2.jpg"}, map[string]string{"A03_1.jpg": "A03_1", "A03_2.jpg": "A03_2"}},
		{[]string{"A03_1.jpg", "a03_1.PNG"}, map[string]string{"A03_1.jpg": "A03_1.jpg", "a03_1.PNG": "a03_1.PNG"}},
		{[]string{long + ".jpg"}, map[string]string{long + ".jpg": long}},
		// sha256 of the whole file name begins so; sha256sum(1) says the same
		{[]string{"a\nb_1.jpg"}, map[string]string{"a\nb_1.jpg": "a_b_1-2759a1fa"}},
		{[]string{"caf\xe9_1.jpg"}, map[string]string{"caf\xe9_1.jpg": "caf__1-bddd26ed"}},
	} {
		if diff := cmp.Diff(c.want, evidenceNames(c.files)); diff != "" {
			t.Errorf("evidenceNames(%q), want -, got +:\n%s", c.files, diff)
		}
	}
	// two long names that differ only at the end
	a, b := strings.Repeat("x", 251)+".jpg", strings.Repeat("x", 251)+".png"
	names := evidenceNames([]string{a, b})
	for _, n := range names {
		if len(n+".png") > 255 {
			t.Errorf("%d bytes: no file can be called %s.png", len(n+".png"), n)
		}
	}
	if names[a] == names[b] {
		t.Errorf("%s and %s share the name %s", a, b, names[a])
	}
}

// TestHostileNames grades photos whose names would leave the folder, break
// lines or turn the text, and wants a mask for each inside the folder.
func TestHostileNames(t *testing.T) {
	rack := filepath.Join(t.TempDir(), "rack")
	names := []string{
		"a..%2f..%2fetc_1.jpg", "<script>alert(1)<_1.jpg", "=1+1_1.jpg", "\u202egpj.txt_1.jpg",
		"line\nbreak_1.jpg", strings.Repeat("long", 62) + "_1.jpg", "twin_1.jpg", "twin_1.jpeg", "not\xffutf_1.jpg", "\x1b[2J_1.jpg",
	}
	writeFiles(t, rack, names...)
	r, _, err := testGrading(rack).run(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(rack, "jigloupe")
	seen := map[string]bool{}
	for _, p := range r.Pieces {
		for _, ph := range p.Photos {
			for _, f := range []string{ph.Head.Mask, ph.Picture.File} {
				if !filepath.IsLocal(f) || seen[f] {
					t.Errorf("%q has %q, which is another's or outside", ph.File, f)
				}
				seen[f] = true
				if _, err := os.Stat(filepath.Join(out, f)); err != nil {
					t.Errorf("%q: %v", ph.File, err)
				}
			}
		}
	}
	if len(seen) != 2*len(names) {
		t.Errorf("%d masks and pictures of %d photos", len(seen), len(names))
	}
	// what results.json says can be opened
	read, err := reports.ReadResults(filepath.Join(out, "results.json"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range read.Pieces {
		if _, err := os.Stat(filepath.Join(out, p.Photos[0].Head.Mask)); err != nil {
			t.Error(err)
		}
	}
	var table strings.Builder
	printTable(&table, r, nil)
	if got, want := strings.Count(table.String(), "\n"), len(r.Pieces)+2; got != want {
		t.Errorf("table of %d lines, want %d:\n%s", got, want, table.String())
	}
	if strings.ContainsAny(table.String(), "\x1b\u202e") {
		t.Errorf("table turns the text:\n%q", table.String())
	}
}

// TestPieceByPiece: grading each piece alone, as the command does, gives what
// grading the whole batch at once gives. It fails when a measure comes to
// depend on other pieces; then the keys of the records must cover those. Graded
// again, what judging needs must be in the records.
func TestPieceByPiece(t *testing.T) {
	rack := filepath.Join(t.TempDir(), "rack")
	writeFiles(t, rack, "A01_1.jpg", "A01_2.jpg")
	writeKind(t, "turned", filepath.Join(rack, "A02_1.jpg"))
	writeKind(t, "bare", filepath.Join(rack, "A03_1.jpg"))
	writeKind(t, "empty", filepath.Join(rack, "A04_1.jpg"))
	sheet := "piece,head_style\nA01,ball\nA02,ball\nA03,ball\nA05,ball\n"
	if err := os.WriteFile(filepath.Join(rack, "batch.csv"), []byte(sheet), 0o644); err != nil {
		t.Fatal(err)
	}
	got, _, err := testGrading(rack).run(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	b, err := inspect.ReadBatch(rack)
	if err != nil {
		t.Fatal(err)
	}
	want, err := inspect.Grade(context.Background(), b, inspect.Options{Reflectance: 0.18, Version: version}, func(*inspect.Photo, *inspect.Evidence) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("at once -, piece by piece +:\n%s", diff)
	}
	again, _, err := testGrading(rack).run(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(got.Pieces, again.Pieces, cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("measured -, judged anew from its record +:\n%s", diff)
	}
}

func testGrading(rack string) grading {
	return grading{batch: rack, card: 0.18, paper: "A4", progress: func(string, int, int) {}, say: func(string) {}, contents: &contents{}}
}

func writeFiles(t *testing.T, dir string, names ...string) {
	t.Helper()
	for _, n := range names {
		writeKind(t, "good", filepath.Join(dir, n))
	}
}

func writeKind(t *testing.T, kind, path string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, photos[kind](), 0o644); err != nil {
		t.Fatal(err)
	}
}

// TestPublishHalfWay: while old parts lie beside new ones, nothing vouches for
// them.
func TestPublishHalfWay(t *testing.T) {
	rack := filepath.Join(t.TempDir(), "rack")
	writeFiles(t, rack, "A01_1.jpg")
	if _, _, err := testGrading(rack).run(context.Background()); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(rack, "jigloupe")
	out, err := openOutput(dir, rack)
	if err != nil {
		t.Fatal(err)
	}
	defer out.close()
	if err := out.publish(); err == nil { // the new index.html is missing
		t.Fatal("publish put half a report in place and said nothing")
	}
	for _, f := range []string{"results.json", ".pieces"} {
		if _, err := os.Stat(filepath.Join(dir, f)); err == nil {
			t.Errorf("the old %s is there", f)
		}
	}
}
