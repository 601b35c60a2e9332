package reports

import (
	"bytes"
	"encoding/csv"
	"path/filepath"
	"regexp"
	"strconv"

	"jigloupe/inspect"
)

// WriteCSV writes two tables into dir: pieces.csv with a row per piece and
// faults.csv with a row per fault and per doubtful spot. They are UTF-8 with a
// byte order mark, so that spreadsheets show µ and Δ; what was cleared has "gone"
// in its last column; units are in the header; what was not measured is an empty
// cell; and no text in them is taken for a formula.
// A u column is a standard uncertainty (k = 1).
// A person's verdict has columns of its own beside the program's.
func WriteCSV(dir string, r *inspect.Results, standing map[string]Overrule) error {
	head := []string{"piece", "verdict", "main reason", "close calls", "overruled to", "overruled by", "overruled at", "overruled because"}
	for _, c := range r.Batch.Columns {
		head = append(head, harmless(c))
	}
	pieces := [][]string{append(head, "seen of the head", "photos", "usable photos",
		"bare area (%)", "bare area u (%)", "bare area (mm²)", "smallest visible spot (mm)", "bare spots",
		"outline deviation (mm)", "outline deviation u (mm)", "lumps", "highest lump (mm)", "pinholes", "orange peel (µm)", "eye",
		"light", "travel (ΔE00)", "travel u (ΔE00)", "travel from (°)", "travel to (°)", "hue arc (°)", "flop", "travel without shading (ΔE00)", "travel without shading u (ΔE00)")}
	faults := [][]string{{"piece", "photo", "view", "lamp", "number", "fault", "place", "edge or face", "x (px)", "y (px)",
		"across (px)", "across (mm)", "across u (mm)", "area (px)", "area (mm²)", "share of the head (%)", "height (mm)", "height u (mm)", "opacity (0 to 1)", "shows", "confidence (0 to 1)", "lamp moved"}}
	for i := range r.Pieces {
		p := &r.Pieces[i]
		pieces = append(pieces, pieceRow(p, standing, r.Batch.Columns))
		for _, ph := range p.Photos {
			photo := []string{harmless(p.Piece), harmless(ph.File), harmless(ph.View), harmless(ph.Lamp)}
			spot := func(fault string, s inspect.BareSpot) {
				faults = append(faults, append(photo[:4:4], strconv.Itoa(s.Number), fault, harmless(s.Place), harmless(s.Where), number(&s.X), number(&s.Y),
					number(&s.DiameterPx), number(s.DiameterMM), number(s.DiameterU), strconv.Itoa(s.AreaPx), number(s.AreaMM2), number(&s.SharePct), "", "", number(&s.Opacity), harmless(s.Shows), number(&s.Confidence), s.LampMoved))
			}
			for _, s := range append(ph.BareSpots[:len(ph.BareSpots):len(ph.BareSpots)], ph.ClearedSpots...) {
				spot("bare spot", s)
			}
			for _, s := range ph.DarkSpots {
				spot("doubtful spot", s)
			}
			relief := func(fault string, f inspect.ReliefFault) {
				faults = append(faults, append(photo[:4:4], strconv.Itoa(f.Number), harmless(fault), harmless(f.Place), "", number(&f.X), number(&f.Y),
					number(&f.DiameterPx), number(f.DiameterMM), "", "", "", "", number(f.HeightMM), number(f.U), "", "", number(&f.Confidence), f.LampMoved))
			}
			for _, f := range append(ph.ReliefFaults[:len(ph.ReliefFaults):len(ph.ReliefFaults)], ph.ClearedRelief...) {
				relief(kindWord(f.Kind), f)
			}
			for _, f := range ph.DoubtfulRelief {
				relief("doubtful lump", f)
			}
		}
	}
	if err := writeTable(filepath.Join(dir, "pieces.csv"), pieces); err != nil {
		return err
	}
	return writeTable(filepath.Join(dir, "faults.csv"), faults)
}

func pieceRow(p *inspect.Piece, standing map[string]Overrule, columns []string) []string {
	close, usable, spots := 0, 0, 0
	inView := map[string]int{} // a spot that both photos of a lamp-moved pair show is one
	for _, r := range p.Reasons {
		if r.CloseCall {
			close++
		}
	}
	for _, ph := range p.Photos {
		if ph.Usable {
			usable++
		}
		if ph.SameAs == "" {
			inView[ph.View] = max(inView[ph.View], len(ph.BareSpots))
		}
	}
	for _, n := range inView {
		spots += n
	}
	row := []string{harmless(p.Piece), harmless(string(p.Verdict)), harmless(why(p)), strconv.Itoa(close), "", "", "", ""}
	if o, ok := standing[p.Piece]; ok {
		copy(row[4:], []string{string(o.Verdict), harmless(o.By), o.At.Format("2006-01-02 15:04"), harmless(o.Because)})
	}
	for _, c := range columns {
		row = append(row, harmless(p.Sheet[c]))
	}
	row = append(row, harmless(p.Seen), strconv.Itoa(len(p.Photos)), strconv.Itoa(usable))
	var c inspect.Coverage
	found := ""
	if p.Coverage != nil {
		c = *p.Coverage
		found = strconv.Itoa(spots)
	}
	row = append(row, number(c.BareAreaPct), number(c.U), number(c.BareAreaMM2), number(c.SmallestVisibleMM), found)
	var rel inspect.Relief
	lumps, pinholes := "", ""
	if p.Relief != nil {
		rel = *p.Relief
		if rel.Pinholes != nil {
			pinholes = strconv.Itoa(*rel.Pinholes)
		}
		if rel.Lumps != nil {
			lumps = strconv.Itoa(*rel.Lumps)
		}
	}
	row = append(row, number(rel.OutlineDeviationMM), number(rel.U), lumps, number(rel.LumpHeightMM), pinholes, number(rel.OrangePeelUM), harmless(string(p.Eye)))
	var t inspect.Travel
	var from, to, shift, shiftU *float64
	if p.Travel != nil {
		t = *p.Travel
		if t.BetweenDeg != nil {
			from, to = &t.BetweenDeg[0], &t.BetweenDeg[1]
		}
		if t.Shift != nil {
			shift, shiftU = &t.Shift.DeltaE00, &t.Shift.U
		}
	}
	return append(row, harmless(t.Light), number(t.DeltaE00Max), number(t.U), number(from), number(to), number(t.HueArcDeg), number(t.Flop), number(shift), number(shiftU))
}

// number prints six digits, more than any doubt here allows, and nothing for nil.
func number(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'g', 6, 64)
}

// formula finds text that a spreadsheet would run: at the start of a cell, also
// after blanks, and after a semicolon, at which some countries' spreadsheets
// part cells although the file parts them at commas.
var formula = regexp.MustCompile(`(^|;)(\s*)([=+\-@＝＋－＠])`)

// harmless makes text that stays text in a spreadsheet. Numbers are printed by
// number, so that -0.1 stays a number.
func harmless(s string) string {
	return formula.ReplaceAllString(plain(s), "$1$2'$3")
}

func writeTable(path string, rows [][]string) error {
	var b bytes.Buffer
	b.WriteString("\ufeff")
	w := csv.NewWriter(&b)
	w.UseCRLF = true // RFC 4180
	if err := w.WriteAll(rows); err != nil {
		return err
	}
	return writeWhole(path, b.Bytes())
}
