package calib

import "testing"

func TestReadTag(t *testing.T) {
	for text, ok := range map[string]bool{
		"jigloupe 12 A03": true, "jigloupe 8.5 two words": true,
		"jigloupe 12 ": false, "jigloupe A03": false, "jigloupe 1200 A03": false, "jigloupe NaN A03": false,
		"jigloupe 12 A\x1b[2J": false, "jigloupe 12 A\n03": false, "jigloupe 12  A03": false, "jigloupe 12 \xff": false,
		"https://example.org/ 12 A03": false, "": false,
	} {
		if piece, side, got := readTag(text); got != ok {
			t.Errorf("%q: %q, %v, %v; want %v", text, piece, side, got, ok)
		}
	}
}

// Only names that can be read back are printed.
func TestTagModules(t *testing.T) {
	for _, c := range []struct {
		name string
		side float64
		ok   bool
	}{{"A03", 12, true}, {"größtes Stück, 2. Wahl", 8.5, true}, {"", 12, false}, {" A03", 12, false}, {"A\t3", 12, false}, {"A03", 5, false}, {"A03", 61, false}} {
		if m, err := TagModules(c.name, c.side); (err == nil) != c.ok || c.ok && len(m) < 25 {
			t.Errorf("%q, %v mm: %d modules a side, %v", c.name, c.side, len(m), err)
		}
	}
}
