package history

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"jigloupe/inspect"
)

// results is the results.json of an invented batch: bare shares of its pieces,
// those above 0.5 % failing.
func results(t testing.TB, name, powder string, bare ...float64) []byte {
	t.Helper()
	r := inspect.Results{Schema: inspect.Schema, Batch: inspect.Batch{Name: name}}
	for i, percent := range bare {
		travel := 20 + float64(i)
		p := inspect.Piece{Piece: fmt.Sprintf("A%02d", i+1), Verdict: inspect.Pass, Eye: inspect.EyeUnseen,
			Sheet:    map[string]string{"powder": powder, "base": "none", "customer": "Öhrn & sons"},
			Photos:   []inspect.Photo{{File: fmt.Sprintf("A%02d_1.jpg", i+1)}},
			Coverage: &inspect.Coverage{BareAreaPct: &percent},
			Travel: &inspect.Travel{Light: "diffuse", DeltaE00Max: &travel,
				Curve: []inspect.TravelBin{{ViewingDeg: 5, L: 50 + float64(i)}, {ViewingDeg: 15, L: 45}}}}
		if percent > 0.5 {
			p.Verdict = inspect.Fail
			p.Reasons = []inspect.Reason{{Measure: "bare_area", Outcome: inspect.Fail}}
		}
		r.Pieces = append(r.Pieces, p)
	}
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func open(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func day(n int) time.Time { return time.Date(2026, 3, n, 9, 0, 0, 0, time.UTC) }

func TestAddListExportDelete(t *testing.T) {
	// A path that a URL would misread.
	path := filepath.Join(t.TempDir(), "my jigs", "50% #1 ?.db")
	s := open(t, path)
	if _, err := os.Stat(path); err != nil {
		t.Fatal(err)
	}
	first := results(t, "march", "dusk teal", 0.1, 0.9)
	b, added, err := s.Add(first, day(1))
	if err != nil || added != New || b.Pieces != 2 || b.Pass != 1 || b.Fail != 1 || !b.GradedAt.Equal(day(1)) || fmt.Sprint(b.Powders) != "[dusk teal]" {
		t.Fatalf("added %+v, %q, %v", b, added, err)
	}
	if _, added, err = s.Add(first, day(1)); err != nil || added != Unchanged {
		t.Errorf("the same again: %q, %v", added, err)
	}
	// Graded again on a later day with other results: one batch, its first date.
	again := results(t, "march", "dusk teal", 0.1, 0.2)
	c, added, err := s.Add(again, day(5))
	if err != nil || added != Replaced || c.ID != b.ID || c.Fail != 0 || !c.GradedAt.Equal(day(1)) {
		t.Errorf("regraded: %+v, %q, %v", c, added, err)
	}
	if _, _, err = s.Add(results(t, "april", "moss", 0.3), day(9)); err != nil {
		t.Fatal(err)
	}
	list, err := s.List()
	if err != nil || len(list) != 2 || list[0].Name != "april" || list[1].Pieces != 2 {
		t.Fatalf("list %+v, %v", list, err)
	}
	if out, err := s.Results(b.ID); err != nil || !bytes.Equal(out, again) {
		t.Errorf("export differs from what was added: %v", err)
	}
	s.Close()
	s = open(t, path) // kept
	if gone, err := s.Delete(b.ID); err != nil || gone.Name != "march" {
		t.Errorf("deleted %+v, %v", gone, err)
	}
	if _, err := s.Delete(b.ID); err == nil || !strings.Contains(err.Error(), "no batch") {
		t.Errorf("deleted twice: %v", err)
	}
	if _, err := s.Results(b.ID); err == nil {
		t.Error("exported a deleted batch")
	}
	if found, err := s.Find("teal"); err != nil || len(found) != 0 {
		t.Errorf("pieces of a deleted batch: %v, %v", found, err)
	}
	var left int
	if err := s.db.QueryRow(`SELECT count(*) FROM measures WHERE piece_id NOT IN (SELECT id FROM pieces)`).Scan(&left); err != nil || left != 0 {
		t.Errorf("%d measures without a piece, %v", left, err)
	}
}

func TestAddRefuses(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "h.db"))
	for _, content := range []string{"", "{}", `{"schema":"jigloupe/results/99"}`, "PNG"} {
		if _, _, err := s.Add([]byte(content), day(1)); err == nil {
			t.Errorf("added %q", content)
		}
	}
	if list, err := s.List(); err != nil || len(list) != 0 {
		t.Errorf("list %v, %v", list, err)
	}
}

func TestOpenRefusesWhatItDoesNotKnow(t *testing.T) {
	path := filepath.Join(t.TempDir(), "h.db")
	s := open(t, path)
	if _, err := s.db.Exec(`INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, 1)`); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if _, err := Open(path); err == nil || !strings.Contains(err.Error(), "newer") {
		t.Errorf("opened a history of a newer program: %v", err)
	}
	other := filepath.Join(t.TempDir(), "photo.jpg")
	if err := os.WriteFile(other, bytes.Repeat([]byte("not a history"), 1000), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(other); err == nil {
		t.Error("opened a photo as a history")
	}
	if b, _ := os.ReadFile(other); !bytes.HasPrefix(b, []byte("not a history")) {
		t.Error("and overwrote it")
	}
}

func TestDefaultPath(t *testing.T) {
	t.Setenv("HOME", "/home/someone")
	t.Setenv("XDG_DATA_HOME", "/data")
	if got, err := DefaultPath(); err != nil || got != "/data/jigloupe/history.db" {
		t.Errorf("DefaultPath = %q, %v", got, err)
	}
	t.Setenv("XDG_DATA_HOME", "relative")
	if got, err := DefaultPath(); err != nil || got != "/home/someone/.local/share/jigloupe/history.db" {
		t.Errorf("DefaultPath = %q, %v", got, err)
	}
}

// A date given in the user's zone must come back as that date.
func TestDatesAreTheUsers(t *testing.T) {
	zone := time.Local
	defer func() { time.Local = zone }()
	time.Local = time.FixedZone("east", 10*3600)
	s := open(t, filepath.Join(t.TempDir(), "h.db"))
	midnight := time.Date(2026, 3, 14, 0, 0, 0, 0, time.Local)
	if _, _, err := s.Add(results(t, "rack", "moss", 3, 0.1), midnight); err != nil {
		t.Fatal(err)
	}
	list, _ := s.List()
	found, _ := s.Find("")
	trend, _ := s.trend("", "bare spots")
	for _, at := range []time.Time{list[0].GradedAt, found[0].GradedAt, trend.Batches[0].GradedAt} {
		if at.Format(time.DateOnly) != "2026-03-14" {
			t.Errorf("graded at %v, want the 14th", at)
		}
	}
}

func TestFind(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "h.db"))
	for i, powder := range []string{"dusk teal", "moss"} {
		if _, _, err := s.Add(results(t, fmt.Sprint("rack ", i), powder, 0.1, 0.9), day(i+1)); err != nil {
			t.Fatal(err)
		}
	}
	for text, want := range map[string]int{"": 4, "TEAL": 2, "öhrn": 4, "a02 moss": 1, "rack 1": 3, "100%": 0, "' OR 1": 0} {
		found, err := s.Find(text)
		if err != nil || len(found) != want {
			t.Errorf("Find(%q): %d pieces, %v, want %d", text, len(found), err, want)
		}
	}
	found, _ := s.Find("a02 moss")
	if f := found[0]; f.Piece != "A02" || f.Batch != "rack 1" || f.Verdict != inspect.Fail || f.Sheet["powder"] != "moss" || !f.GradedAt.Equal(day(2)) {
		t.Errorf("found %+v", f)
	}
}

func TestWriteCSV(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "h.db"))
	if _, _, err := s.Add(results(t, "=HYPERLINK(1)", "-3.5", 0.25), day(1)); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := s.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	want := "batch_id,batch,graded_at,piece,verdict,base,customer,powder,bare spots,lumps,sags and cones,pinholes,colour travel\n" +
		"1,'=HYPERLINK(1),2026-03-01T09:00:00Z,A01,pass,none,Öhrn & sons,-3.5,0.25,,,,20\n"
	if b.String() != want {
		t.Errorf("CSV\n%s\nwant\n%s", b.String(), want)
	}
}

func TestPieces(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "h.db"))
	for i := range 2 {
		if _, _, err := s.Add(results(t, fmt.Sprint("rack ", i), "moss", 0.1), day(i+1)); err != nil {
			t.Fatal(err)
		}
		pieces, err := s.pieces("")
		if err != nil || len(pieces) != i+1 || pieces[0].Sheet["batch"] != fmt.Sprint("rack ", i) || len(pieces[0].Travel.Curve) != 2 {
			t.Fatalf("pieces %+v, %v", pieces, err)
		}
	}
}

func TestTrend(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "h.db"))
	// Added out of order; the chart must be in order of date.
	for _, i := range []int{3, 1, 2, 4, 6, 5, 8, 7, 9, 10, 11, 12} {
		bare := []float64{0.1, 0.2, 0.1, 0.1 * float64(i%2), 0.1, 0.2, 0.1, 0.2}
		if i == 12 {
			bare = []float64{3, 3, 3, 3, 3, 0.1, 0.1, 0.1}
		}
		if _, _, err := s.Add(results(t, fmt.Sprint("rack ", i), "Moss", bare...), day(i)); err != nil {
			t.Fatal(err)
		}
		if _, _, err := s.Add(results(t, fmt.Sprint("other ", i), "teal", 1, 1), day(i)); err != nil {
			t.Fatal(err)
		}
	}
	trend, err := s.trend("moss", "bare spots")
	if err != nil {
		t.Fatal(err)
	}
	if len(trend.Batches) != 12 || trend.Batches[0].Name != "rack 1" || trend.Batches[11].Rate.Count != 5 || trend.Batches[0].Rate.Of != 8 {
		t.Fatalf("batches %+v", trend.Batches)
	}
	if !closeTo(trend.Share.Centre, 5.0/96) || len(trend.Share.Signals) != 1 || trend.Share.Signals[0].From != 11 {
		t.Errorf("share %+v, want batch 12 beyond the limit about %.3f", trend.Share, 5.0/96)
	}
	if trend.Size == nil || !closeTo(*trend.Batches[11].Size, 15.3/8) || trend.Unit != "% of the head" {
		t.Errorf("size %+v", trend.Size)
	}
	if !strings.Contains(trend.Says[0], "The process moved") || !strings.Contains(trend.Says[0], "rack 12 (2026-03-12)") {
		t.Errorf("says %q", trend.Says)
	}
	if all, err := s.trend("", "bare spots"); err != nil || len(all.Batches) != 24 {
		t.Errorf("all powders: %d batches, %v", len(all.Batches), err)
	}
	travel, err := s.trend("moss", Travel)
	if err != nil || travel.Share != nil || travel.Size == nil || !closeTo(*travel.Batches[0].Size, 23.5) || travel.Unit != "ΔE00" {
		t.Errorf("travel %+v, %v", travel, err)
	}
	// The eye was seen on no piece: that is no batch without blocked eyes, it is no batch.
	if eyes, err := s.trend("moss", "blocked eyes"); err != nil || len(eyes.Batches) != 0 || len(eyes.Says) != 1 {
		t.Errorf("eyes %+v, %v", eyes, err)
	}
}

func TestTrends(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "h.db"))
	if all, err := s.Trends("", ""); err != nil || len(all) != len(Charted()) || all[5].Fault != Travel {
		t.Errorf("%+v, %v", all, err)
	}
	if one, err := s.Trends("", "lumps"); err != nil || len(one) != 1 || one[0].Fault != "lumps" {
		t.Errorf("%+v, %v", one, err)
	}
	if _, err := s.Trends("", "dents"); err == nil || !strings.Contains(err.Error(), "pinholes") {
		t.Errorf("unknown fault: %v", err)
	}
}

func closeTo(a, b float64) bool { return math.Abs(a-b) < 1e-9 }

func BenchmarkAdd(b *testing.B) {
	s := open(b, filepath.Join(b.TempDir(), "h.db"))
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if _, _, err := s.Add(results(b, fmt.Sprint(i), "moss", make([]float64, 40)...), day(1)); err != nil {
			b.Fatal(err)
		}
		i++
	}
}
