package inspect

import "testing"

// The same photo under two names is one view, and what it shows counts once; two
// photos of a pair with the lamp moved are one view too.
func TestSamePhotoCountsOnce(t *testing.T) {
	shot := func(file, view, lamp string, x float64) Photo {
		return Photo{File: file, View: view, Lamp: lamp, Usable: true, Width: 100, Height: 80, Head: &Head{Outline: []Point{{x, 1}, {x, 2}, {x + 1, 2}}},
			BareSpots: []BareSpot{{SharePct: 0.3}}, Coverage: &Coverage{BareAreaPct: value(0.3), U: value(0.05), SmallestVisibleMM: value(0.3)},
			Relief: &Relief{Pinholes: new(3), SmallestPinholeMM: value(0.2)}}
	}
	for _, c := range []struct {
		name   string
		photos []Photo
		seen   string
		views  int
	}{
		{"twice the same", []Photo{shot("A_1.jpg", "1", "", 5), shot("A_2.jpg", "2", "", 5)}, "one side", 1},
		{"thrice the same", []Photo{shot("A_1.jpg", "1", "", 5), shot("A_2.jpg", "2", "", 5), shot("A_3.jpg", "3", "", 5)}, "one side", 1},
		{"two sides", []Photo{shot("A_1.jpg", "1", "", 5), shot("A_2.jpg", "2", "", 6)}, "two sides", 2},
		{"the lamp moved", []Photo{shot("A_1.jpg", "1", "", 5), shot("A_1b.jpg", "1", "b", 6)}, "one side", 1},
	} {
		p := Piece{Photos: c.photos}
		p.merge()
		if p.Seen != c.seen || usableViews(&p) != c.views || *p.Coverage.BareAreaPct != 0.3 || *p.Relief.Pinholes != 3 {
			t.Errorf("%s: seen %s in %d views, %v %% bare, %d pinholes; want %s, %d, 0.3, 3",
				c.name, p.Seen, usableViews(&p), *p.Coverage.BareAreaPct, *p.Relief.Pinholes, c.seen, c.views)
		}
	}
}

// A view that shows the outline is enough; a note stays only where none does.
func TestOutlineOfTheViewThatShowsMost(t *testing.T) {
	lost, some, much := &Relief{OutlineNote: noteNoRim}, &Relief{OutlineSeenPct: value(30)}, &Relief{OutlineSeenPct: value(60)}
	for _, c := range []struct {
		name string
		a, b *Relief
		pct  float64
		note string
	}{
		{"lost, then seen", lost, some, 30, ""},
		{"seen, then lost", some, lost, 30, ""},
		{"seen more", some, much, 60, ""},
		{"lost twice", lost, &Relief{OutlineNote: noteNoForm}, 0, noteNoRim},
	} {
		m, pct := worseRelief(c.a, c.b), 0.0
		if m.OutlineSeenPct != nil {
			pct = *m.OutlineSeenPct
		}
		if pct != c.pct || m.OutlineNote != c.note {
			t.Errorf("%s: %g %%, %q; want %g, %q", c.name, pct, m.OutlineNote, c.pct, c.note)
		}
	}
}
