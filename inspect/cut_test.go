package inspect

import (
	"image"
	"testing"
)

func TestAgreed(t *testing.T) {
	row := func(s string) *image.Gray {
		m := image.NewGray(image.Rect(0, 0, len(s), 1))
		for i := range s {
			if s[i] == '#' {
				m.Pix[i] = 255
			}
		}
		return m
	}
	for name, c := range map[string]struct {
		all  []cutting
		want string
	}{
		"one leaves out a side":    {[]cutting{{row("..##.."), 0.8, 0.9}, {row("..####"), 0.9, 0.9}, {row("..####"), 1, 0.85}}, "..####"},
		"one takes in a bit":       {[]cutting{{row("..##.."), 0.8, 0.9}, {row("..##.."), 0.9, 0.9}, {row(".###.."), 1, 0.85}}, "..##.."},
		"two hold a shadow":        {[]cutting{{row("..##.."), 0.8, 0.9}, {row("..####"), 0.9, 0.5}, {row("..####"), 1, 0.5}}, "..##.."},
		"two end in a head's haze": {[]cutting{{row("..##.."), 0.2, 1}, {row("..##.."), 0.3, 1}, {row(".#####"), 1, 0.5}}, ".#####"},
	} {
		if got := agreed(c.all); string(got.Pix) != string(row(c.want).Pix) {
			t.Errorf("%s: %v", name, got.Pix)
		}
	}
}
