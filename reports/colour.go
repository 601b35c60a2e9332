package reports

import (
	"fmt"
	"strings"
	"time"

	"jigloupe/inspect"
)

// WriteCGATS writes every piece's travel curve to path as colour data in the
// text form of CGATS.17 and ISO 28178, which other colour programs read: one
// set per piece and viewing angle. L*, a*, b*, C*ab and h_ab are for D50 and
// the 2° observer; U_DE00 is the standard uncertainty (k = 1) as a ΔE00. The
// form demands a date of creation; day is that of the grading.
func WriteCGATS(path string, r *inspect.Results, day time.Time) error {
	fields := []string{"SAMPLE_ID", "SAMPLE_NAME", "VIEWING_DEG", "LIGHT", "LAB_L", "LAB_A", "LAB_B", "LAB_C", "LAB_H", "U_DE00", "PIXELS"}
	var sets []string
	for i := range r.Pieces {
		p := &r.Pieces[i]
		if p.Travel == nil {
			continue
		}
		for _, bin := range p.Travel.Curve {
			c := lab(bin)
			sets = append(sets, fmt.Sprintf("%d\t%s\t%g\t%s\t%.3f\t%.3f\t%.3f\t%.3f\t%.2f\t%.3f\t%d", len(sets)+1, quoted(p.Piece), bin.ViewingDeg, quoted(p.Travel.Light),
				c.L, c.A, c.B, c.Chroma(), c.HueDeg(), bin.U, bin.Px))
		}
	}
	lines := []string{
		"CGATS.17",
		"ORIGINATOR\t" + quoted(r.Tool.Name+" "+r.Tool.Version),
		"DESCRIPTOR\t" + quoted("colour travel of batch "+r.Batch.Name),
		"CREATED\t" + quoted(day.Format("2006-01-02")),
		"INSTRUMENTATION\t" + quoted("photographs referred to a grey card"),
		"MEASUREMENT_GEOMETRY\t" + quoted("camera; viewing angle in VIEWING_DEG, light in LIGHT"),
		"WEIGHTING_FUNCTION\t" + quoted("ILLUMINANT, D50"),
		"WEIGHTING_FUNCTION\t" + quoted("OBSERVER, 2 degree"),
	}
	for _, own := range []string{"VIEWING_DEG", "LIGHT", "U_DE00", "PIXELS"} {
		lines = append(lines, "KEYWORD\t"+quoted(own))
	}
	lines = append(lines, fmt.Sprintf("NUMBER_OF_FIELDS\t%d", len(fields)), "BEGIN_DATA_FORMAT", strings.Join(fields, "\t"), "END_DATA_FORMAT",
		fmt.Sprintf("NUMBER_OF_SETS\t%d", len(sets)), "BEGIN_DATA")
	lines = append(append(lines, sets...), "END_DATA", "")
	return writeWhole(path, []byte(strings.Join(lines, "\r\n")))
}

// quoted makes a string of the form, which is one line of ASCII and has no way
// to write a quotation mark that every reader knows.
func quoted(s string) string {
	return `"` + strings.Map(func(r rune) rune {
		switch {
		case r == '"':
			return '\''
		case r > '~':
			return '?'
		}
		return r
	}, plain(s)) + `"`
}
