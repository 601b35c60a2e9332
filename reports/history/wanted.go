package history

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
)

// Nearest sorts all pieces ever graded by how near their colour comes to what
// like names, see Wanted; the piece that like names is not among them.
func (s *Store) Nearest(like string) ([]study.Match, error) {
	wanted, err := s.wanted(like)
	if err != nil {
		return nil, err
	}
	pieces, err := s.pieces(like)
	if err != nil {
		return nil, err
	}
	return study.Nearest(wanted, pieces), nil
}

// wanted reads what a search is for: the curve of a piece in the history,
// written as batch number and piece, 3/A02, or else a table of a curve in a file.
func (s *Store) wanted(like string) (inspect.Travel, error) {
	batchID, name, _ := strings.Cut(like, "/")
	id, err := strconv.ParseInt(batchID, 10, 64)
	if _, missing := os.Stat(like); err != nil || missing == nil {
		f, err := os.Open(like)
		if err != nil {
			return inspect.Travel{}, err
		}
		defer f.Close()
		t, err := readCurve(f)
		if err != nil {
			return inspect.Travel{}, fmt.Errorf("%s: %w", like, err)
		}
		return t, nil
	}
	results, err := s.Results(id)
	if err != nil {
		return inspect.Travel{}, err
	}
	r, err := parse(results)
	if err != nil {
		return inspect.Travel{}, err
	}
	i := slices.IndexFunc(r.Pieces, func(p inspect.Piece) bool { return p.Piece == name })
	switch {
	case i < 0:
		return inspect.Travel{}, fmt.Errorf("batch %d, %s, has no piece %q", id, r.Batch.Name, name)
	case r.Pieces[i].Travel == nil || len(r.Pieces[i].Travel.Curve) == 0:
		return inspect.Travel{}, fmt.Errorf("the colour of piece %s of batch %d was not measured", name, id)
	}
	return *r.Pieces[i].Travel, nil
}

// readCurve reads a travel curve: a table with the columns viewing_deg, L, a, b
// (CIELAB, D50, 2°) and, if it was not taken in diffuse light, light.
func readCurve(r io.Reader) (inspect.Travel, error) {
	rows, err := csv.NewReader(r).ReadAll()
	if err != nil {
		return inspect.Travel{}, err
	}
	if len(rows) < 2 {
		return inspect.Travel{}, fmt.Errorf("no curve in it: it needs a line of column names and a line per viewing angle")
	}
	t := inspect.Travel{Light: "diffuse"}
	rows[0][0] = strings.TrimPrefix(rows[0][0], "\ufeff")
	for n, row := range rows[1:] {
		field := func(name string) (float64, error) {
			i := slices.Index(rows[0], name)
			if i < 0 {
				return 0, fmt.Errorf("no column %q; it needs viewing_deg, L, a, b", name)
			}
			v, err := strconv.ParseFloat(strings.TrimSpace(row[i]), 64)
			if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
				return 0, fmt.Errorf("line %d: %s is %q, not a number", n+2, name, row[i])
			}
			return v, nil
		}
		var bin inspect.TravelBin
		for name, to := range map[string]*float64{"viewing_deg": &bin.ViewingDeg, "L": &bin.L, "a": &bin.A, "b": &bin.B} {
			if *to, err = field(name); err != nil {
				return inspect.Travel{}, err
			}
		}
		if i := slices.Index(rows[0], "light"); i >= 0 && row[i] != "" {
			t.Light = row[i]
		}
		t.Curve = append(t.Curve, bin)
	}
	return t, nil
}
