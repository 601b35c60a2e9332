package inspect

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// limitsText is the limits file with its comments; each %v is one limit, in
// the order of the fields of Limits.
const limitsText = `# What a piece must keep to pass. Change a number, keep the name before it, and
# grade with:  jigloupe grade BATCH --limits THIS_FILE
# A line left out means the ordinary limit, which is the one printed here.

# Largest share of the visible head that may be bare, in %%.
bare_area_pct = %v

# A single bare spot this wide fails the piece, in mm. Needs a scale.
bare_spot_mm = %v

# Highest lump that passes, in mm. Needs a scale.
lump_height_mm = %v

# How far the outline may run off that of a smooth head, in mm. Needs a scale.
outline_deviation_mm = %v

# This many pinholes in one view fail the piece.
pinholes = %v

# true: a line-tie eye blocked with paint fails the piece.
eye_must_be_open = %v

# How many different usable views a pass needs; 0 asks for none in particular.
# 3 (front, back, top) sees nearly the whole head, 1 sees about half of it.
min_views = %v
`

// LimitsFile is a commented limits file that ReadLimits reads back as l.
func LimitsFile(l Limits) string {
	return fmt.Sprintf(limitsText, l.BareAreaPct, l.BareSpotMM, l.LumpHeightMM, l.OutlineDeviationMM, l.Pinholes, l.EyeMustBeOpen, l.MinViews)
}

// ReadLimits reads a limits file. What it leaves out keeps its ordinary limit;
// a name it does not know, a value of the wrong kind or one outside its range
// is an error that names the line.
func ReadLimits(path string) (Limits, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return Limits{}, err
	}
	l, err := parseLimits(text)
	if err != nil {
		return Limits{}, fmt.Errorf("%s, %w", filepath.Base(path), err)
	}
	return l, nil
}

func parseLimits(text []byte) (Limits, error) {
	l := DefaultLimits()
	err := toml.NewDecoder(bytes.NewReader(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")))).DisallowUnknownFields().Decode(&l)
	var unknown *toml.StrictMissingError
	var wrong *toml.DecodeError
	switch {
	case errors.As(err, &unknown):
		first := unknown.Errors[0]
		line, _ := first.Position()
		return l, fmt.Errorf("line %d: there is no limit %q; the limits are %s", line, strings.Join(first.Key(), "."), strings.Join(limitNames(), ", "))
	case errors.As(err, &wrong):
		line, _ := wrong.Position()
		return l, fmt.Errorf("line %d: %s", line, strings.TrimPrefix(wrong.Error(), "toml: "))
	case err != nil:
		return l, err
	}
	for _, v := range []struct {
		name  string
		value float64
		most  float64
	}{
		{"bare_area_pct", l.BareAreaPct, 100},
		{"bare_spot_mm", l.BareSpotMM, 100},
		{"lump_height_mm", l.LumpHeightMM, 100},
		{"outline_deviation_mm", l.OutlineDeviationMM, 100},
		{"pinholes", float64(l.Pinholes), 1e6},
		{"min_views", float64(l.MinViews), 100},
	} {
		if !(v.value >= 0 && v.value <= v.most) { // also NaN
			return l, fmt.Errorf("line %d: %s is %v, it must lie between 0 and %v", lineOf(text, v.name), v.name, v.value, v.most)
		}
		if v.name == "pinholes" && v.value == 0 {
			return l, fmt.Errorf("line %d: pinholes is how many fail a piece, so 0 would fail every one; 1 fails a piece with any", lineOf(text, v.name))
		}
	}
	return l, nil
}

// limitNames are the names that a limits file may set.
func limitNames() []string {
	var names []string
	for line := range strings.Lines(limitsText) {
		if name, _, ok := strings.Cut(line, " = "); ok && !strings.HasPrefix(line, "#") {
			names = append(names, name)
		}
	}
	return names
}

// lineOf is the line, from 1, that sets name in a file that parsed.
func lineOf(text []byte, name string) int {
	n := 0
	for line := range bytes.Lines(text) {
		n++
		key, _, _ := bytes.Cut(line, []byte("="))
		if strings.Trim(strings.TrimSpace(string(key)), `"'`) == name {
			break
		}
	}
	return n
}
