package inspect

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestLimitsFileReadsBack(t *testing.T) {
	odd := Limits{BareAreaPct: 0.125, BareSpotMM: 3, LumpHeightMM: 1e-7, OutlineDeviationMM: 0.1, Pinholes: 12, EyeMustBeOpen: false, MinViews: 3}
	for _, want := range []Limits{DefaultLimits(), odd} {
		got, err := parseLimits([]byte(LimitsFile(want)))
		if err != nil || got != want {
			t.Errorf("parseLimits(LimitsFile(%+v)) = %+v, %v", want, got, err)
		}
	}
}

// Every field of Limits can be set in the file.
func TestLimitNames(t *testing.T) {
	want := "bare_area_pct bare_spot_mm lump_height_mm outline_deviation_mm pinholes eye_must_be_open min_views"
	if got := strings.Join(limitNames(), " "); got != want {
		t.Errorf("limitNames() = %s, want %s", got, want)
	}
}

func TestParseLimits(t *testing.T) {
	ordinary := DefaultLimits()
	some := ordinary
	some.BareAreaPct, some.Pinholes = 2, 1
	for _, c := range []struct {
		text, wrong string
		want        Limits
	}{
		{"", "", ordinary},
		{"\xef\xbb\xbfbare_area_pct = 2 # ours\n\npinholes = 1\n", "", some},
		{"\nbare_aera_pct = 2", `line 2: there is no limit "bare_aera_pct"`, ordinary},
		{"[strict]\npinholes = 1", `line 1: there is no limit "strict"`, ordinary},
		{"bare_area_pct = 0,5", "line 1: ", ordinary},
		{"pinholes = 2.5", "line 1: ", ordinary},
		{"eye_must_be_open = \"yes\"", "line 1: ", ordinary},
		{"# a\nbare_spot_mm = -0.1", "line 2: bare_spot_mm is -0.1, it must lie between 0 and 100", ordinary},
		{"bare_spot_mm = nan", "line 1: bare_spot_mm is NaN", ordinary},
		{"bare_area_pct = 101", "line 1: bare_area_pct is 101", ordinary},
		{"pinholes = 0", "line 1: pinholes is how many fail a piece", ordinary},
		{"min_views = 1\nmin_views = 2", "line 2: ", ordinary},
	} {
		got, err := parseLimits([]byte(c.text))
		switch {
		case c.wrong == "" && (err != nil || got != c.want):
			t.Errorf("parseLimits(%q) = %+v, %v; want %+v", c.text, got, err, c.want)
		case c.wrong != "" && (err == nil || !strings.HasPrefix(err.Error(), c.wrong)):
			t.Errorf("parseLimits(%q): %v; want %s", c.text, err, c.wrong)
		}
	}
}

func TestReadLimitsNamesTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ours.toml")
	if err := os.WriteFile(path, []byte("pinholes = x"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadLimits(path); err == nil || !strings.HasPrefix(err.Error(), "ours.toml, line 1: ") {
		t.Errorf("ReadLimits: %v", err)
	}
}

func FuzzParseLimits(f *testing.F) {
	f.Add([]byte(LimitsFile(DefaultLimits())))
	f.Add([]byte("pinholes = 1e9\n[a.b]\nx = '''"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := parseLimits(text)
		if err != nil {
			return
		}
		if again, err := parseLimits([]byte(LimitsFile(l))); err != nil || again != l {
			t.Errorf("%+v reads back as %+v, %v", l, again, err)
		}
	})
}
