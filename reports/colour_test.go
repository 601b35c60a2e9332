package reports

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// readCGATS is a small reader of CGATS.17 text, as strict as the form: counts
// must agree, and every field outside the standard's own list be declared.
func readCGATS(text string) (keys map[string]string, sets []map[string]string, err error) {
	standard := map[string]bool{"SAMPLE_ID": true, "SAMPLE_NAME": true, "LAB_L": true, "LAB_A": true, "LAB_B": true, "LAB_C": true, "LAB_H": true}
	lines := strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n")
	if lines[0] != "CGATS.17" {
		return nil, nil, fmt.Errorf("first line is %q", lines[0])
	}
	keys = map[string]string{}
	var fields []string
	part := ""
	for _, l := range lines[1:] {
		cells := strings.Split(l, "\t")
		for i, c := range cells {
			if strings.HasPrefix(c, `"`) != strings.HasSuffix(c, `"`) || strings.Count(c, `"`) > 2 {
				return nil, nil, fmt.Errorf("odd quotes in %q", l)
			}
			cells[i] = strings.Trim(c, `"`)
		}
		switch {
		case l == "BEGIN_DATA_FORMAT" || l == "BEGIN_DATA":
			part = l
		case l == "END_DATA_FORMAT" || l == "END_DATA":
			part = ""
		case part == "BEGIN_DATA_FORMAT":
			fields = append(fields, cells...)
		case part == "BEGIN_DATA":
			if len(cells) != len(fields) {
				return nil, nil, fmt.Errorf("%d fields in %q, want %d", len(cells), l, len(fields))
			}
			set := map[string]string{}
			for i, f := range fields {
				set[f] = cells[i]
			}
			sets = append(sets, set)
		case cells[0] == "KEYWORD":
			standard[cells[1]] = true
		default:
			keys[cells[0]] = cells[1]
		}
	}
	for _, f := range fields {
		if !standard[f] {
			return nil, nil, fmt.Errorf("field %s is not declared", f)
		}
	}
	for key, n := range map[string]int{"NUMBER_OF_FIELDS": len(fields), "NUMBER_OF_SETS": len(sets)} {
		if keys[key] != strconv.Itoa(n) {
			return nil, nil, fmt.Errorf("%s says %s, there are %d", key, keys[key], n)
		}
	}
	return keys, sets, nil
}

func TestColourData(t *testing.T) {
	dir := t.TempDir()
	r := trial(t, dir)
	path := filepath.Join(dir, "travel.txt")
	if err := WriteCGATS(path, r, time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "travel.txt", b)
	keys, sets, err := readCGATS(string(b))
	if err != nil {
		t.Fatal(err)
	}
	if keys["CREATED"] != "2026-03-04" || keys["ORIGINATOR"] != "jigloupe 0.0-test" {
		t.Errorf("keys %v", keys)
	}
	n := 0
	for _, p := range r.Pieces {
		if p.Travel == nil {
			continue
		}
		for _, bin := range p.Travel.Curve {
			set := sets[n]
			n++
			for field, want := range map[string]float64{"VIEWING_DEG": bin.ViewingDeg, "LAB_L": bin.L, "LAB_A": bin.A, "LAB_B": bin.B, "U_DE00": bin.U} {
				if got, err := strconv.ParseFloat(set[field], 64); err != nil || math.Abs(got-want) > 0.0005 { // three decimals
					t.Errorf("%s at %g°: %s = %s, want %.4f", p.Piece, bin.ViewingDeg, field, set[field], want)
				}
			}
			// Chroma and hue must fit a* and b*: C*cos(h) = a*.
			c, _ := strconv.ParseFloat(set["LAB_C"], 64)
			h, _ := strconv.ParseFloat(set["LAB_H"], 64)
			if a := c * math.Cos(h*math.Pi/180); math.Abs(a-bin.A) > 0.01 {
				t.Errorf("%s at %g°: C* %g and h %g give a* %.3f, want %.3f", p.Piece, bin.ViewingDeg, c, h, a, bin.A)
			}
		}
	}
	if n != len(sets) {
		t.Errorf("%d sets, want %d", len(sets), n)
	}
}
