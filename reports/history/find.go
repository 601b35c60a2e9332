package history

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
)

// Found is a piece in the history.
type Found struct {
	BatchID  int64             `json:"batch_id"`
	Batch    string            `json:"batch"`
	GradedAt time.Time         `json:"graded_at"`
	Piece    string            `json:"piece"`
	Verdict  inspect.Outcome   `json:"verdict"`
	Sheet    map[string]string `json:"sheet"`
	id       int64
}

// Find returns the pieces in whose name, batch name or batch sheet every word
// of text occurs, upper or lower case, the latest first. No words find all.
func (s *Store) Find(text string) ([]Found, error) {
	query := `SELECT p.id, b.id, b.name, b.graded_at, p.piece, p.verdict, p.sheet FROM pieces p JOIN batches b ON b.id = p.batch_id WHERE true`
	var words []any
	for _, w := range strings.Fields(strings.ToLower(text)) {
		query += ` AND instr(p.words, ?)`
		words = append(words, w)
	}
	rows, err := s.db.Query(query+` ORDER BY b.graded_at DESC, b.id DESC, p.id`, words...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	found := []Found{}
	for rows.Next() {
		var f Found
		var when, sheet string
		if err := rows.Scan(&f.id, &f.BatchID, &f.Batch, &when, &f.Piece, &f.Verdict, &sheet); err != nil {
			return nil, err
		}
		if f.GradedAt, err = readTime(when); err != nil {
			return nil, err
		}
		if err := json.Unmarshal([]byte(sheet), &f.Sheet); err != nil {
			return nil, err
		}
		found = append(found, f)
	}
	return found, rows.Err()
}

// pieces returns all pieces ever graded but the one written as but, 3/A02, each
// with its batch's name in the column "batch" of its sheet.
func (s *Store) pieces(but string) ([]inspect.Piece, error) {
	rows, err := s.db.Query(`SELECT id, results FROM batches ORDER BY graded_at DESC, id DESC`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var batches []inspect.Results
	for rows.Next() {
		var id int64
		var packed []byte
		if err := rows.Scan(&id, &packed); err != nil {
			return nil, err
		}
		results, err := unpack(packed)
		if err != nil {
			return nil, err
		}
		r, err := parse(results)
		if err != nil {
			return nil, err
		}
		r.Pieces = slices.DeleteFunc(r.Pieces, func(p inspect.Piece) bool { return fmt.Sprintf("%d/%s", id, p.Piece) == but })
		batches = append(batches, *r)
	}
	if len(batches) == 1 { // Pool names the batch only where there are several
		batches = append(batches, inspect.Results{})
	}
	return study.Pool(batches...), rows.Err()
}

// WriteCSV writes a row for every piece ever graded: where and when, what the
// batch sheets said, the verdict, and each measure's size.
func (s *Store) WriteCSV(w io.Writer) error {
	pieces, err := s.Find("")
	if err != nil {
		return err
	}
	sizes, err := s.sizes()
	if err != nil {
		return err
	}
	columns := map[string]bool{}
	for _, p := range pieces {
		for c := range p.Sheet {
			columns[c] = true
		}
	}
	sheet := slices.Sorted(maps.Keys(columns))
	var measures []string
	for _, f := range study.Faults {
		if f.Unit != "" {
			measures = append(measures, f.Name)
		}
	}
	measures = append(measures, Travel)
	out := csv.NewWriter(w)
	if err := out.Write(slices.Concat([]string{"batch_id", "batch", "graded_at", "piece", "verdict"}, cells(sheet), measures)); err != nil {
		return err
	}
	for _, p := range pieces {
		record := []string{strconv.FormatInt(p.BatchID, 10), p.Batch, p.GradedAt.UTC().Format(time.RFC3339), p.Piece, string(p.Verdict)}
		for _, c := range sheet {
			record = append(record, p.Sheet[c])
		}
		record = cells(record)
		for _, m := range measures {
			size := "" // not measured
			if v, ok := sizes[p.id][m]; ok {
				size = strconv.FormatFloat(v, 'g', -1, 64)
			}
			record = append(record, size)
		}
		if err := out.Write(record); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// cells keeps a spreadsheet from taking words for formulas.
func cells(words []string) []string {
	safe := make([]string, len(words))
	for i, w := range words {
		if w != "" && strings.ContainsRune("=+-@\t\r", rune(w[0])) {
			if _, err := strconv.ParseFloat(w, 64); err != nil {
				w = "'" + w
			}
		}
		safe[i] = w
	}
	return safe
}

// sizes are the measured sizes by piece and measure.
func (s *Store) sizes() (map[int64]map[string]float64, error) {
	rows, err := s.db.Query(`SELECT piece_id, name, size FROM measures WHERE size IS NOT NULL`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	sizes := map[int64]map[string]float64{}
	for rows.Next() {
		var id int64
		var name string
		var size float64
		if err := rows.Scan(&id, &name, &size); err != nil {
			return nil, err
		}
		if sizes[id] == nil {
			sizes[id] = map[string]float64{}
		}
		sizes[id][name] = size
	}
	return sizes, rows.Err()
}
