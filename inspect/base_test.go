package inspect

import "testing"

func TestBaseOf(t *testing.T) {
	for said, want := range map[string]string{
		"": "none", " None ": "none", "bare metal": "none", "White": "white", "cured white": "white", "flat black": "black", "Grey": "grey",
	} {
		if got := BaseOf(said); got != want {
			t.Errorf("%q means %q, want %q", said, got, want)
		}
	}
}
