package inspect

import (
	"reflect"
	"slices"
	"strings"
	"testing"
)

func TestLimitsFileReadsBack(t *testing.T) {
	odd := Limits{BareAreaPct: 0.125, BareSpotMM: 3, LumpHeightMM: 1e-7, OutlineDeviationMM: 0.1, Pinholes: 12, EyeMustBeOpen: false, MinViews: 3}
	some := DefaultLimits()
	some.Only = []Only{{HeadStyle: "ball \"x\" \n", BareSpotMM: value(0.7)}, {Powder: "dusk heather", HeadStyle: "ball", Pinholes: new(9), EyeMustBeOpen: new(bool)}}
	for _, want := range []Limits{DefaultLimits(), odd, some} {
		got, err := parseLimits([]byte(LimitsFile(want)))
		if err != nil || !reflect.DeepEqual(got, want) {
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
		{"[[only]]\nhead_style = \"ball\"\nbare_area = 2", `line 3: there is no limit "only.bare_area"; the limits are head_style, powder, bare_area_pct`, ordinary},
		{"[[only]]\nbase = \"white\"\nbare_area_pct = 2", `line 2: there is no limit "only.base"`, ordinary},
		{"pinholes = 3\n\n[[only]]\npinholes = 2", "line 3: [[only]] must say for which pieces", ordinary},
		{"[[only]]\npowder = \"a\"\npinholes = 2\n[[only]]\nhead_style = \"ball\"\n", "line 4: [[only]] for head style ball sets no limit", ordinary},
		{"bare_spot_mm = 1\n[[only]]\npowder = \"a\"\nbare_spot_mm = 2\n [[only]]\npowder = \"b\"\nbare_spot_mm = -2\n", "line 7: bare_spot_mm is -2", ordinary},
		{"[[only]]\npowder = \"a\"\npinholes = 0", "line 3: pinholes is how many fail a piece", ordinary},
		{"[[only]]\npowder = 3\npinholes = 2", "line 2: ", ordinary},
	} {
		got, err := parseLimits([]byte(c.text))
		switch {
		case c.wrong == "" && (err != nil || !reflect.DeepEqual(got, c.want)):
			t.Errorf("parseLimits(%q) = %+v, %v; want %+v", c.text, got, err, c.want)
		case c.wrong != "" && (err == nil || !strings.HasPrefix(err.Error(), c.wrong)):
			t.Errorf("parseLimits(%q): %v; want %s", c.text, err, c.wrong)
		}
	}
}

// A piece has the limits of the sections that fit its row; of two that fit the
// later counts, and what neither sets is that for all.
func TestLimitsForSomePieces(t *testing.T) {
	l, err := parseLimits([]byte("bare_spot_mm = 0.6\n[[only]]\nhead_style = \"ball\"\nbare_area_pct = 1\npinholes = 9\n[[only]]\npowder = \"dusk\"\npinholes = 3\n[[only]]\npowder = \"dawn\"\nhead_style = \"ball\"\neye_must_be_open = false\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		style, powder, whose string
		area                 float64
		pinholes             int
		eye                  bool
	}{
		{"coin", "moss", "", 0.5, 5, true},
		{"", "", "", 0.5, 5, true},
		{"ball", "moss", "head style ball", 1, 9, true},
		{"coin", "dusk", "powder dusk", 0.5, 3, true},
		{"ball", "dusk", "head style ball; powder dusk", 1, 3, true},
		{"ball", "dawn", "head style ball; head style ball, powder dawn", 1, 9, false},
	} {
		own, whose := l.For(map[string]string{"head_style": c.style, "powder": c.powder})
		if own.BareAreaPct != c.area || own.Pinholes != c.pinholes || own.EyeMustBeOpen != c.eye || own.BareSpotMM != 0.6 || whose != c.whose {
			t.Errorf("%s, %s: %+v, %q", c.style, c.powder, own, whose)
		}
		p := sound()
		p.Sheet, p.Relief.Pinholes = map[string]string{"head_style": c.style, "powder": c.powder}, new(4)
		l.Judge(&p, nil)
		if want := map[bool]Outcome{true: Fail, false: Pass}[4 >= c.pinholes]; p.Verdict != want || p.LimitsFor != c.whose {
			t.Errorf("%s, %s: four pinholes are a %s by the limits for %q, want %s", c.style, c.powder, p.Verdict, p.LimitsFor, want)
		}
	}
	rows := []BatchRow{{"A1", map[string]string{"head_style": "ball"}}, {"A2", map[string]string{"head_style": "ball", "powder": "dusk"}}}
	want := []string{
		"The limits for head style ball apply to A1, A2.", "The limits for powder dusk apply to A2.",
		"The limits for head style ball, powder dawn apply to no piece: batch.csv has none with that.",
	}
	if got := l.Notes(rows); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}

func FuzzParseLimits(f *testing.F) {
	f.Add([]byte(LimitsFile(DefaultLimits())))
	f.Add([]byte("[[only]]\npowder = 'a'\npinholes = 3\n[[only]]\nhead_style = \"\\u00e9\"\nmin_views = 2"))
	f.Add([]byte("pinholes = 1e9\n[a.b]\nx = '''"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := parseLimits(text)
		if err != nil {
			return
		}
		if again, err := parseLimits([]byte(LimitsFile(l))); err != nil || !reflect.DeepEqual(again, l) {
			t.Errorf("%+v reads back as %+v, %v", l, again, err)
		}
	})
}
