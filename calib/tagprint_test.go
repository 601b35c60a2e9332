package calib

import "testing"

func TestReadTag(t *testing.T) {
	for text, ok := range map[string]bool{
		"jigloupe 12 A03": true, "jigloupe 8.5 two words": true,
		"jigloupe 12 ": false, "jigloupe A03": false, "jigloupe 1200 A03": false, "jigloupe NaN A03": false,
		"https://example.org/ 12 A03": false, "": false,
	} {
		if piece, side, got := readTag(text); got != ok {
			t.Errorf("%q: %q, %v, %v; want %v", text, piece, side, got, ok)
		}
	}
}
