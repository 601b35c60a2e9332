package calib

import (
	"errors"
	"testing"
)

// Code points of ITU-T H.273, tables 2 and 3.
func TestCodedProfiles(t *testing.T) {
	for _, c := range []struct {
		primaries, transfer int
		name                string
		encoded, linear     float64 // one point of the curve
	}{
		{1, 13, "sRGB", 0.5, 0.2140411405},
		{2, 2, assumedName, 0.5, 0.2140411405},
		{12, 13, "Display P3", 0.5, 0.2140411405},
		{9, 13, "BT.2020 primaries, sRGB curve", 0.5, 0.2140411405},
		{1, 1, "BT.709 primaries, BT.709 curve", 0.081, 0.018}, // the break, as printed in BT.709
		{9, 14, "BT.2020 primaries, BT.709 curve", 0.045, 0.01},
		{1, 6, "BT.709 primaries, BT.709 curve", 0.7055150, 0.5}, // 1.099 · 0.5^0.45 − 0.099
		{12, 4, "P3 primaries, gamma 2.2", 0.5, 0.2176376},
		{1, 5, "BT.709 primaries, gamma 2.8", 0.5, 0.1435873},
		{1, 8, "BT.709 primaries, linear", 0.3, 0.3},
	} {
		p, err := codedProfile(c.primaries, c.transfer)
		if err != nil {
			t.Errorf("codes %d, %d: %v", c.primaries, c.transfer, err)
			continue
		}
		if p.name != c.name {
			t.Errorf("codes %d, %d are called %q, want %q", c.primaries, c.transfer, p.name, c.name)
		}
		near(t, c.name, p.curves[1](c.encoded), c.linear, 1e-4) // BT.709 prints three digits, and its curve jumps by this
	}
	for _, c := range [][2]int{{9, 16}, {9, 18}, {1, 16}, {1, 99}, {11, 13}, {0, 13}} {
		if _, err := codedProfile(c[0], c[1]); !errors.Is(err, ErrUnsupported) {
			t.Errorf("codes %v: %v, want unsupported", c, err)
		}
	}
}

// BT.2020's primaries in sRGB: its green is far outside, its white is white.
func TestWideSpaces(t *testing.T) {
	for _, s := range []space{p3Space, adobeRGBSpace, rec2020Space} {
		near3(t, "white", s.toSRGB().apply([3]float64{1, 1, 1}), [3]float64{1, 1, 1}, 1e-12)
	}
	// ITU-R BT.2087, the inverse of its table 2 to four digits.
	want := matrix{{1.6605, -0.5876, -0.0728}, {-0.1246, 1.1329, -0.0083}, {-0.0182, -0.1006, 1.1187}}
	for i, row := range rec2020Space.toSRGB() {
		near3(t, "BT.2020 to sRGB", row, want[i], 1e-4)
	}
}
