package reports

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strconv"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
)

// WriteRepeatability saves how far measures scatter, for later gradings. It
// appears whole or not at all.
func WriteRepeatability(path string, r *inspect.Repeatability) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(withoutNil(reflect.ValueOf(*r)).Interface()); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return writeWhole(path, b.Bytes())
}

// RepeatPage is how far a measurement repeats.
func RepeatPage(s study.RepeatStudy) StudyPage {
	p := StudyPage{Kind: "Repeatability", Title: s.Found.From, Cautions: s.Cautions, Method: []string{
		"Every usable photo counts as the piece placed and photographed anew. The scatter is the standard deviation of the photos about the mean of their piece, pooled over the pieces; its 95 % interval is that of chi-square. A colour's scatter is a ΔE00: the distance from the mean colour in a space that is CIEDE2000 there.",
		"With operators or sessions, two pieces or more and two photos or more of each by each, the scatter is parted by the two-way analysis of variance of a gauge study (AIAG, Measurement Systems Analysis, 4th ed., ANOVA method); the number is then that of repeats, operators and their interaction together.",
		"A verdict's uncertainty is the square root of the photo's own squared and this scatter squared. Part of the scatter is in the photo's own already: the sum is rather too large than too small.",
	}}
	numbers := StudySection{Heading: "Scatter of the measures", Table: &StudyTable{Head: []string{"measure", "scatter", "95 % interval", "one photo says ±", "differences"}}}
	colours := StudySection{Heading: "Scatter of the colour", Table: &StudyTable{Head: []string{"seen at", "scatter, ΔE00", "95 % interval", "one photo says ±", "differences"}}}
	parts := StudySection{Heading: "Where the scatter comes from", Table: &StudyTable{Head: []string{"measure", "repeats", "operators", "operators by piece", "pieces", "classes told apart"}}}
	covered, known := 0, 0
	for _, m := range s.Found.Measures {
		own := "not given"
		if m.ReportedU != nil {
			own = twoDigits(*m.ReportedU)
			known++
			if *m.ReportedU >= m.Interval[0] {
				covered++
			}
		}
		row := []string{repeatWord(m), twoDigits(m.SD), fmt.Sprintf("%s to %s", twoDigits(m.Interval[0]), twoDigits(m.Interval[1])), own, fmt.Sprint(m.DF)}
		if m.ViewingDeg != nil {
			colours.Table.Rows = append(colours.Table.Rows, row)
		} else {
			numbers.Table.Rows = append(numbers.Table.Rows, row)
		}
		if m.Parts != nil {
			parts.Table.Rows = append(parts.Table.Rows, []string{repeatWord(m), twoDigits(m.Parts.Repeatability), twoDigits(m.Parts.Operator), twoDigits(m.Parts.Interaction), twoDigits(m.Parts.Piece), fmt.Sprint(m.Parts.Categories)})
		}
	}
	for _, section := range []StudySection{numbers, colours, parts} {
		if len(section.Table.Rows) > 0 {
			p.Sections = append(p.Sections, section)
		}
	}
	switch {
	case known == 0:
		p.Answer = "No measure scattered that a photo gives an uncertainty for."
	case covered == known:
		p.Answer = fmt.Sprintf("The uncertainty that a photo states covers how far repeats scatter, in all %s that state one.", plural(known, "measure"))
	default:
		p.Answer = fmt.Sprintf("Repeats scatter more than a photo's own uncertainty says in %d of %s that state one.", known-covered, plural(known, "measure"))
	}
	return p
}

// twoDigits are as many as a standard deviation of a few repeats is worth.
func twoDigits(v float64) string {
	if v >= 10 {
		return fmt.Sprintf("%.0f", v)
	}
	return strconv.FormatFloat(v, 'g', 2, 64)
}

func repeatWord(m inspect.Scatter) string {
	if m.ViewingDeg != nil {
		return fmt.Sprintf("%.0f°", *m.ViewingDeg)
	}
	unit := m.Unit
	if unit == "in one view" {
		unit = "count"
	}
	word := map[string]string{"travel": "travel", "shift": "travel without shading", "hue_arc": "hue arc", "lump_height": "lump height"}[m.Measure]
	if word == "" {
		word = measureWord(m.Measure)
	}
	return word + ", " + unit
}
