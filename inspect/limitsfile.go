package inspect

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
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

# Other limits for some pieces, by head_style, powder or both as batch.csv has
# them. What a section leaves out stays as above; of sections that fit one piece
# the later ones count. Such sections stand at the end of the file:
#
#   [[only]]
#   head_style = "ball"
#   bare_area_pct = 1
`

// LimitsFile is a commented limits file that ReadLimits reads back as l.
func LimitsFile(l Limits) string {
	text := fmt.Sprintf(limitsText, l.BareAreaPct, l.BareSpotMM, l.LumpHeightMM, l.OutlineDeviationMM, l.Pinholes, l.EyeMustBeOpen, l.MinViews)
	if len(l.Only) == 0 {
		return text
	}
	sections, err := toml.Marshal(struct {
		Only []Only `toml:"only"`
	}{l.Only})
	if err != nil {
		panic(err) // strings and numbers only
	}
	return text + "\n" + string(sections)
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
		return Limits{}, fmt.Errorf("%s, %w", path, err)
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
		names := limitNames()
		if key := first.Key(); len(key) > 1 && key[0] == "only" {
			names = append([]string{"head_style", "powder"}, names...)
		}
		return l, fmt.Errorf("line %d: there is no limit %q; the limits are %s", line, strings.Join(first.Key(), "."), strings.Join(names, ", "))
	case errors.As(err, &wrong):
		line, _ := wrong.Position()
		return l, fmt.Errorf("line %d: %s", line, lineWanted(text, line))
	case err != nil:
		return l, err
	}
	if err := inRange(text, -1, l); err != nil {
		return l, err
	}
	for k, o := range l.Only {
		line := lineOf(text, k, "")
		if o.HeadStyle == "" && o.Powder == "" {
			return l, fmt.Errorf("line %d: [[only]] must say for which pieces: head_style, powder or both", line)
		}
		if (o == Only{HeadStyle: o.HeadStyle, Powder: o.Powder}) {
			return l, fmt.Errorf("line %d: [[only]] for %s sets no limit", line, o.Whose())
		}
		own, _ := Limits{Pinholes: 1, Only: []Only{o}}.For(map[string]string{"head_style": o.HeadStyle, "powder": o.Powder})
		if err := inRange(text, k, own); err != nil {
			return l, err
		}
	}
	return l, nil
}

// lineWanted says what should stand in a line, from 1, that can't be read.
func lineWanted(text []byte, line int) string {
	key, _, _ := strings.Cut(strings.Split(string(text), "\n")[line-1], "=")
	key = strings.TrimSpace(key)
	switch {
	case key == "eye_must_be_open":
		return "eye_must_be_open is either true or false, without quotes"
	case key == "pinholes" || key == "min_views":
		return key + " wants a whole number, without quotes"
	case slices.Contains(limitNames(), key):
		return key + " wants a number such as 0.5, with a point and without quotes"
	}
	return "a line of a limits file is a name, = and a number, such as bare_area_pct = 0.5"
}

// inRange checks the limits of a section of the file, -1 those for all pieces.
func inRange(text []byte, section int, l Limits) error {
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
			return fmt.Errorf("line %d: %s is %v, it must lie between 0 and %v", lineOf(text, section, v.name), v.name, v.value, v.most)
		}
		if v.name == "pinholes" && v.value == 0 {
			return fmt.Errorf("line %d: pinholes is how many fail a piece, so 0 would fail every one; 1 fails a piece with any", lineOf(text, section, v.name))
		}
	}
	return nil
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

// lineOf is the line, from 1, that sets name in a section of a file that parsed,
// -1 before the first; the line at which the section begins for "".
func lineOf(text []byte, section int, name string) int {
	n, at := 0, -1
	for line := range bytes.Lines(text) {
		n++
		if isSection(line) {
			at++
		}
		key, _, _ := bytes.Cut(line, []byte("="))
		if at == section && (name == "" || strings.Trim(strings.TrimSpace(string(key)), `"'`) == name) {
			return n
		}
	}
	return n
}

func isSection(line []byte) bool { return bytes.HasPrefix(bytes.TrimSpace(line), []byte("[[")) }
