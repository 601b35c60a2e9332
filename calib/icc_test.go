package calib

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"
)

// iccD50 is the white of profiles as they print it, ICC.1:2022 7.2.16.
var iccD50 = [3]float64{0.9642, 1, 0.8249}

// buildICC writes a matrix/TRC profile of the given version (2 or 4) for a
// space, with the same curve tag in all three channels.
func buildICC(version byte, s space, curve []byte) []byte {
	m := adapt(s.white.xyz(), iccD50).mul(s.toXYZ())
	tags := []struct {
		name string
		body []byte
	}{{"desc", iccText(version, "a test profile")}, {"wtpt", iccXYZ(iccD50)}}
	for k, c := range []string{"r", "g", "b"} {
		tags = append(tags,
			struct {
				name string
				body []byte
			}{c + "XYZ", iccXYZ([3]float64{m[0][k], m[1][k], m[2][k]})},
			struct {
				name string
				body []byte
			}{c + "TRC", curve})
	}
	icc := make([]byte, 132+12*len(tags))
	icc[8] = version
	copy(icc[12:], "mntrRGB XYZ ")
	copy(icc[36:], "acsp")
	copy(icc[68:], iccXYZ(iccD50)[8:]) // the illuminant
	binary.BigEndian.PutUint32(icc[128:], uint32(len(tags)))
	for i, t := range tags {
		e := icc[132+12*i:]
		copy(e, t.name)
		binary.BigEndian.PutUint32(e[4:], uint32(len(icc)))
		binary.BigEndian.PutUint32(e[8:], uint32(len(t.body)))
		icc = append(icc, t.body...)
		for len(icc)%4 != 0 {
			icc = append(icc, 0)
		}
	}
	binary.BigEndian.PutUint32(icc, uint32(len(icc)))
	return icc
}

func iccText(version byte, s string) []byte {
	if version == 2 {
		b := append([]byte("desc\x00\x00\x00\x00"), 0, 0, 0, byte(len(s)+1))
		return append(append(b, s...), make([]byte, 79)...)
	}
	units := utf16.Encode([]rune(s))
	b := append([]byte("mluc\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x0cenUS"), 0, 0, 0, byte(2*len(units)), 0, 0, 0, 28)
	for _, u := range units {
		b = binary.BigEndian.AppendUint16(b, u)
	}
	return b
}

func appendFixed16(b []byte, x float64) []byte {
	return binary.BigEndian.AppendUint32(b, uint32(int32(math.Round(x*65536))))
}

func iccXYZ(v [3]float64) []byte {
	b := []byte("XYZ \x00\x00\x00\x00")
	for _, x := range v {
		b = appendFixed16(b, x)
	}
	return b
}

// curv is a curve of a gamma (one value, in 1/256) or of a table.
func curv(values ...uint16) []byte {
	b := binary.BigEndian.AppendUint32([]byte("curv\x00\x00\x00\x00"), uint32(len(values)))
	for _, v := range values {
		b = binary.BigEndian.AppendUint16(b, v)
	}
	return b
}

func tableOf(n int, f func(float64) float64) []byte {
	values := make([]uint16, n)
	for i := range values {
		values[i] = uint16(math.Round(65535 * f(float64(i)/float64(n-1))))
	}
	return curv(values...)
}

func para(kind uint16, parameters ...float64) []byte {
	b := binary.BigEndian.AppendUint16([]byte("para\x00\x00\x00\x00"), kind)
	b = append(b, 0, 0)
	for _, p := range parameters {
		b = appendFixed16(b, p)
	}
	return b
}

// sRGB's curve as ICC profiles write it, function type 3.
var paraSRGB = para(3, 2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.04045)

func profilesToTest() map[string][]byte {
	wide := space{Chromaticity{0.7347, 0.2653}, Chromaticity{0.1596, 0.8404}, Chromaticity{0.0366, 0.0001}, d50} // ROMM RGB, ISO 22028-2
	return map[string][]byte{
		"sRGB, para 3":           buildICC(4, srgbSpace, paraSRGB),
		"sRGB, table 1024":       buildICC(2, srgbSpace, tableOf(1024, srgbToLinear)),
		"Display P3, para 3":     buildICC(4, p3Space, paraSRGB),
		"Adobe RGB, gamma":       buildICC(2, adobeRGBSpace, curv(563)),
		"Adobe RGB, para 0":      buildICC(4, adobeRGBSpace, para(0, 563.0/256)),
		"BT.2020, para 4":        buildICC(4, rec2020Space, para(4, 1/0.45, 1/1.0993, 0.0993/1.0993, 1/4.5, 0.08145, 0, 0)),
		"wide, para 1":           buildICC(4, wide, para(1, 1.8, 0.98, 0.02)),
		"wide, para 2":           buildICC(4, wide, para(2, 1.8, 0.9, 0.05, 0.02)),
		"sRGB primaries, linear": buildICC(4, srgbSpace, curv()),
		"P3, coarse table":       buildICC(2, p3Space, tableOf(17, gammaCurve(1.9))),
	}
}

func TestICCRecognised(t *testing.T) {
	want := map[string]string{
		"sRGB, para 3": "sRGB", "sRGB, table 1024": "sRGB", "Display P3, para 3": "Display P3",
		"Adobe RGB, gamma": "Adobe RGB", "Adobe RGB, para 0": "Adobe RGB",
	}
	for name, icc := range profilesToTest() {
		p, err := readICC(icc)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		expect, ok := want[name]
		if !ok {
			expect = "ICC profile a test profile"
		}
		if p.name != expect {
			t.Errorf("%s is called %q, want %q", name, p.name, expect)
		}
	}
}

// Little CMS, which others trust with their colours, is the oracle: the same
// encoded colours through the same profile. Its white is ICC's D50, ours the one
// of CSS, hence not zero.
func TestICCAgainstLittleCMS(t *testing.T) {
	transicc := needTool(t, "transicc")
	for name, icc := range profilesToTest() {
		file := filepath.Join(t.TempDir(), "profile.icc")
		if err := os.WriteFile(file, icc, 0o644); err != nil {
			t.Fatal(err)
		}
		p, err := readICC(icc)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		compareWithLittleCMS(t, transicc, name, file, p, 0.05)
	}
}

// Profiles made by others, where a distribution's packages have put them.
func TestInstalledProfilesAgainstLittleCMS(t *testing.T) {
	transicc := needTool(t, "transicc")
	files, _ := filepath.Glob("/usr/share/color/icc/*.icc")
	more, _ := filepath.Glob("/usr/share/color/icc/*/*.icc")
	files = append(files, more...)
	if len(files) == 0 {
		t.Skip("no ICC profiles installed")
	}
	read := 0
	for _, file := range files {
		icc, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		p, err := readICC(icc)
		if errors.Is(err, ErrUnsupported) || errors.Is(err, errDamagedICC) && (string(icc[12:16]) == "nmcl" || string(icc[16:20]) == "Lab ") {
			continue // grey, tables, named colours
		}
		if err != nil {
			t.Errorf("%s: %v", file, err)
			continue
		}
		read++
		compareWithLittleCMS(t, transicc, file, file, p, 0.1)
	}
	if read == 0 {
		t.Error("none of the installed profiles could be read")
	}
}

// compareWithLittleCMS compares the Lab of a lattice of encoded colours.
func compareWithLittleCMS(t *testing.T, transicc, name, file string, p *profile, tolerance float64) {
	t.Helper()
	var in strings.Builder
	var encoded [][3]float64
	for _, r := range []float64{0, 7, 60, 128, 255} {
		for _, g := range []float64{3, 40, 118, 200, 255} {
			for _, b := range []float64{0, 30, 90, 170, 250} {
				encoded = append(encoded, [3]float64{r, g, b})
				fmt.Fprintf(&in, "%g %g %g\n", r, g, b)
			}
		}
	}
	cmd := exec.Command(transicc, "-i", file, "-o", "*Lab", "-t", "1", "-c", "0", "-n")
	cmd.Stdin = strings.NewReader(in.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: transicc: %v", name, err)
	}
	words := strings.Fields(string(out))
	if len(words) < 3*len(encoded) {
		t.Fatalf("%s: transicc says %q", name, out)
	}
	worst := 0.0
	for i, c := range encoded {
		var theirs [3]float64
		for k := range theirs {
			if theirs[k], err = strconv.ParseFloat(words[3*i+k], 64); err != nil {
				t.Fatalf("%s: transicc says %q", name, words[3*i+k])
			}
		}
		for k := range c {
			c[k] = p.curves[k](c[k] / 255)
		}
		v := p.toSRGB.apply(c)
		ours := LinearRGB{v[0], v[1], v[2]}.Lab()
		d := DeltaE2000(Lab{theirs[0], theirs[1], theirs[2]}, ours)
		if !(d <= tolerance) {
			t.Errorf("%s: %v is %.4f here, %.4f by transicc, ΔE00 %.3f, want %g at most", name, encoded[i], ours, theirs, d, tolerance)
		}
		worst = max(worst, d)
	}
	t.Logf("%s: ΔE00 %.4f at most", name, worst)
}

// needTool skips the test where a program that only tests use is not installed.
func needTool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed", name)
	}
	return path
}

func TestICCRefused(t *testing.T) {
	good := buildICC(4, p3Space, paraSRGB)
	edit := func(from, to string) []byte { return bytes.Replace(bytes.Clone(good), []byte(from), []byte(to), 1) }
	for _, c := range []struct {
		name string
		icc  []byte
		want error
	}{
		{"a table", edit("rXYZ", "A2B0"), ErrUnsupported},
		{"grey", edit("RGB XYZ", "GRAYXYZ"), ErrUnsupported},
		{"inks", edit("RGB XYZ", "CMYKXYZ"), ErrUnsupported},
		{"no signature", edit("acsp", "nope"), errDamagedICC},
		{"no blue", edit("bXYZ", "zXYZ"), errDamagedICC},
		{"an unknown curve", edit("para", "zara"), errDamagedICC},
		{"cut short", good[:len(good)/2], errDamagedICC},
		{"nothing", nil, errDamagedICC},
		{"a falling curve", buildICC(2, p3Space, curv(65535, 0)), errDamagedICC},
		{"a curve from far below black", buildICC(4, p3Space, para(4, 1, 1, 0, 1, 0.5, 0, -100)), errDamagedICC},
		{"a flat curve", buildICC(2, p3Space, curv(7, 7)), errDamagedICC},
		{"primaries on one line", buildICC(2, space{Chromaticity{0.2, 0.3}, Chromaticity{0.3, 0.3}, Chromaticity{0.4, 0.3}, d65}, curv(563)), errDamagedICC},
	} {
		if p, err := readICC(c.icc); !errors.Is(err, c.want) {
			t.Errorf("%s: %+v, %v, want %v", c.name, p, err, c.want)
		}
	}
}

// The name comes from a foreign file and reaches terminals and pages.
func TestICCNameIsHarmless(t *testing.T) {
	for in, want := range map[string]string{
		"Plain":                  "ICC profile Plain",
		"a\x1b[31mred\n\x00":     "ICC profile a[31mred",
		"":                       "an unnamed ICC profile",
		strings.Repeat("x", 100): "an unnamed ICC profile",
	} {
		for _, version := range []byte{2, 4} {
			if got := iccName(iccText(version, in)); got != want {
				t.Errorf("version %d: %q is called %q, want %q", version, in, got, want)
			}
		}
	}
	if got := iccName(iccText(4, "\u202Egpj")); got != "ICC profile gpj" {
		t.Errorf("a right-to-left mark stays: %q", got)
	}
}
