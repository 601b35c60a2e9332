package main

import "testing"

func TestTypos(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"grade", "grade", 0}, {"grad", "grade", 1}, {"grrade", "grade", 1}, {"grode", "grade", 1},
		{"garde", "grade", 1}, // neighbours swapped
		{"", "out", 3}, {"out", "", 3},
		{"kitten", "sitting", 3}, // V. I. Levenshtein's distance, the textbook example
	} {
		if got := typos(c.a, c.b); got != c.want {
			t.Errorf("typos(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

func TestNearest(t *testing.T) {
	names := []string{"out", "limits", "jobs", "card", "json", "quiet"}
	for word, want := range map[string]string{"josb": "jobs", "limit": "limits", "JSON": "json", "lmits": "limits", "colour": "", "x": "", "jso": "json"} {
		if got := nearest(word, names); got != want {
			t.Errorf("nearest(%q) = %q, want %q", word, got, want)
		}
	}
}

func TestOneLine(t *testing.T) {
	if got, want := oneLine("a\nb\r\nc\x1b[2Jd\u202ee é ²"), "a; b; c?[2Jd?e é ²"; got != want {
		t.Errorf("oneLine = %q, want %q", got, want)
	}
}
