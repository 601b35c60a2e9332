package history

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestReadCurve(t *testing.T) {
	got, err := readCurve(strings.NewReader("\ufeffviewing_deg,light,L,a,b\n5,one_lamp,60,-1, 2\n15,one_lamp,50.5,0,3\n"))
	if err != nil || got.Light != "one_lamp" || len(got.Curve) != 2 || got.Curve[1].L != 50.5 || got.Curve[0].B != 2 {
		t.Errorf("%+v, %v", got, err)
	}
	for in, want := range map[string]string{
		"":                               "no curve",
		"viewing_deg,L,a\n5,1,2\n":       `no column "b"`,
		"viewing_deg,L,a,b\n5,x,2,3\n":   `line 2: L is "x"`,
		"viewing_deg,L,a,b\n5,NaN,2,3\n": `line 2: L is "NaN"`,
		"viewing_deg,L,a,b\n5,1\n":       "wrong number of fields",
	} {
		if _, err := readCurve(strings.NewReader(in)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", in, err, want)
		}
	}
}

// The recipe of the piece that looks most like the wanted one comes first.
func TestWantedRecipe(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "h.db"))
	b, _, err := s.Add(results(t, "rack", "moss", 0.1, 0.1, 0.1), day(1))
	if err != nil {
		t.Fatal(err)
	}
	m, err := s.Nearest(fmt.Sprintf("%d/A03", b.ID))
	if err != nil || len(m) != 2 || m[0].Piece != "A02" || m[0].Batch != "rack" || m[0].Sheet["powder"] != "moss" {
		t.Errorf("nearest to A03: %+v, %v, want A02, then A01", m, err)
	}
	file := filepath.Join(t.TempDir(), "7.csv")
	if err := os.WriteFile(file, []byte("viewing_deg,L,a,b\n5,52,0,0\n15,45,0,0\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if m, err = s.Nearest(file); err != nil || len(m) != 3 || m[0].Piece != "A03" || m[0].DeltaE00 != 0 {
		t.Errorf("nearest to the file: %+v, %v", m, err)
	}
	for _, like := range []string{"99/A01", fmt.Sprintf("%d/B01", b.ID), "missing.csv"} {
		if _, err := s.Nearest(like); err == nil {
			t.Errorf("Wanted(%q): want an error", like)
		}
	}
}
