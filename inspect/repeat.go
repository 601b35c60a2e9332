package inspect

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
)

// RepeatSchema names the contract of a repeatability file.
const RepeatSchema = "jigloupe/repeat/1"

// Repeatability is how far measures scatter when the same piece is placed and
// photographed again. A photo's own uncertainty cannot know that.
type Repeatability struct {
	Schema   string    `json:"schema"`
	From     string    `json:"from"` // which pieces, how often, in plain words
	Measures []Scatter `json:"measures"`
}

// Scatter is the scatter of one measure.
type Scatter struct {
	Measure string `json:"measure"` // as in a Reason, or travel, shift, hue_arc, colour
	// ViewingDeg is the bin of a colour, else nil.
	ViewingDeg *float64 `json:"viewing_deg"`
	Unit       string   `json:"unit"`
	// SD is the standard deviation of repeats; with operators that of the whole
	// measurement, operators included.
	SD        float64    `json:"sd"`
	Interval  [2]float64 `json:"interval"`   // 95 %, of the repeats' own standard deviation
	DF        int        `json:"df"`         // differences it rests on
	ReportedU *float64   `json:"reported_u"` // the photos' own standard uncertainty, root mean square
	Parts     *Parts     `json:"parts"`      // nil without operators
}

// Parts are the sources of a measure's scatter, each as a standard deviation.
type Parts struct {
	Repeatability float64 `json:"repeatability"` // same piece, same operator
	Operator      float64 `json:"operator"`      // between operators
	Interaction   float64 `json:"interaction"`   // operators differing on some pieces; 0 when too small to tell
	Piece         float64 `json:"piece"`         // between pieces
	Categories    int     `json:"categories"`    // classes of pieces that can be told apart
}

// ReadRepeatability reads a file that `jigloupe repeat` saved.
func ReadRepeatability(path string) (*Repeatability, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var r Repeatability
	if err := json.Unmarshal(text, &r); err != nil {
		return nil, fmt.Errorf("%s: not a repeatability file: %w", path, err)
	}
	if r.Schema != RepeatSchema {
		return nil, fmt.Errorf("%s: schema is %q, this program reads %q; save it anew with jigloupe repeat --save", path, r.Schema, RepeatSchema)
	}
	for _, s := range r.Measures {
		if !(s.SD >= 0) || math.IsInf(s.SD, 0) {
			return nil, fmt.Errorf("%s: %s has a standard deviation of %v; save it anew with jigloupe repeat --save", path, s.Measure, s.SD)
		}
	}
	return &r, nil
}

// widened is the uncertainty of one photo's measure and its scatter together.
func (r *Repeatability) widened(measure string, u *float64) *float64 {
	if r == nil {
		return u
	}
	for _, s := range r.Measures {
		if s.Measure != measure {
			continue
		}
		both := s.SD
		if u != nil {
			both = math.Hypot(*u, s.SD)
		}
		return &both
	}
	return u
}

// note says in a sentence that verdicts count the scatter in, and where not.
func (r *Repeatability) note() string {
	var in, out []string
	for _, m := range []struct{ measure, name string }{
		{"bare_area", "bare area"}, {"bare_spot", "bare spot"}, {"lump_height", "lump"}, {"outline_deviation", "outline"}, {"pinholes", "pinholes"},
	} {
		out = append(out, m.name)
		for _, s := range r.Measures {
			if s.Measure == m.measure {
				out = out[:len(out)-1]
				in = append(in, fmt.Sprintf("%s %.2g %s", m.name, s.SD, s.Unit))
			}
		}
	}
	if len(in) == 0 {
		return "A repeatability file was given, but it holds no measure that a verdict rests on."
	}
	text := "The doubt of verdicts counts in how far a piece scatters when it is placed and photographed again (" + r.From + "; standard deviations): " + strings.Join(in, ", ") + "."
	if len(out) > 0 {
		text += " It is not known for " + strings.Join(out, ", ") + "."
	}
	return text
}
