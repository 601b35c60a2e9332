package inspect

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// sheet is a small table with a header, its cells trimmed.
type sheet struct {
	columns []string
	rows    []sheetRow
	wrong   []string // notes on lines that are left out
}

type sheetRow struct {
	sheet string // its file name
	line  int
	cell  map[string]string
}

// at says where the row stands.
func (r sheetRow) at() string { return fmt.Sprintf("%s, line %d,", r.sheet, r.line) }

// readSheet reads a table as spreadsheets save it: with or without a byte
// order mark, with commas, semicolons or tabs, in UTF-8, UTF-16 or Windows-1252.
// It returns nil when there is no such file. The key column must be there.
func readSheet(path, key string) (*sheet, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	name := filepath.Base(path)
	if bytes.HasPrefix(text, []byte("PK\x03\x04")) || bytes.HasPrefix(text, []byte("\xd0\xcf\x11\xe0")) { // ZIP, OLE2
		return nil, fmt.Errorf("%s is a spreadsheet's own file under another name: open it there and save it as CSV", name)
	}
	if text, err = toUTF8(text); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	r := csv.NewReader(bytes.NewReader(text))
	r.Comma, r.Comment = separator(text), '#'
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = r.Comma != '\t'
	s := &sheet{}
	for {
		record, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w; open it in a spreadsheet and save it as CSV again", name, err)
		}
		line, _ := r.FieldPos(0)
		for i := range record {
			record[i] = strings.TrimSpace(record[i])
		}
		if s.columns == nil {
			for i, c := range record {
				record[i] = strings.ToLower(c)
			}
			if !slices.Contains(record, key) {
				return nil, fmt.Errorf("%s, line %d: the first row must name the columns, one of them %q; it has %s", name, line, key, strings.Join(record, ", "))
			}
			for i, c := range record {
				if c != "" && slices.Contains(record[:i], c) {
					s.wrong = append(s.wrong, fmt.Sprintf("%s names the column %s twice: its last cells count.", sheetRow{sheet: name, line: line}.at(), c))
				}
			}
			s.columns = record
			continue
		}
		if strings.Join(record, "") == "" {
			continue
		}
		row := sheetRow{name, line, map[string]string{}}
		if len(record) > len(s.columns) {
			s.wrong = append(s.wrong, fmt.Sprintf("%s has %d cells, but only %d columns are named: it is left out.", row.at(), len(record), len(s.columns)))
			continue
		}
		for i, c := range record {
			row.cell[s.columns[i]] = c
		}
		s.rows = append(s.rows, row)
	}
	if s.columns == nil {
		return nil, fmt.Errorf("%s is empty: its first row must name the columns, one of them %q", name, key)
	}
	return s, nil
}

// toUTF8 removes a byte order mark, and reads what is no UTF-8 as what else
// spreadsheets write.
func toUTF8(text []byte) ([]byte, error) {
	from := encoding.Encoding(charmap.Windows1252)
	switch {
	case bytes.HasPrefix(text, []byte("\xff\xfe")), bytes.HasPrefix(text, []byte("\xfe\xff")):
		from = unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM)
	case utf8.Valid(text):
		return bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")), nil
	}
	return from.NewDecoder().Bytes(text)
}

// separator is the sign that stands most often in the first line.
func separator(text []byte) rune {
	for line := range bytes.Lines(text) {
		if bytes.HasPrefix(line, []byte("#")) || len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		best := ','
		for _, c := range ";\t" {
			if bytes.Count(line, []byte(string(c))) > bytes.Count(line, []byte(string(best))) {
				best = c
			}
		}
		return best
	}
	return ','
}

// mmPerPx reads a scale. A head of 90 px, the narrowest that is graded, would be
// 90 mm wide at more than 1 mm to the pixel.
func mmPerPx(text string) (float64, error) {
	v, err := positive(text)
	if err == nil && v > 1 {
		return 0, fmt.Errorf("is more than 1 mm to the pixel, and %s px to the mm would be %.3g", text, 1/v)
	}
	return v, err
}

// positive reads a number above 0, with a decimal point or comma.
func positive(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || !(v > 0 && v < 1e6) {
		return 0, errors.New("is not a number above 0")
	}
	return v, nil
}
