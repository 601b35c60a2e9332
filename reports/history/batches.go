package history

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"jigloupe/inspect"
	"jigloupe/inspect/study"
)

// A Batch is a graded batch as the history lists it.
type Batch struct {
	ID       int64     `json:"id"`
	Name     string    `json:"name"`
	GradedAt time.Time `json:"graded_at"`
	Pieces   int       `json:"pieces"`
	Pass     int       `json:"pass"`
	Fail     int       `json:"fail"`
	Retake   int       `json:"retake"`
	Powders  []string  `json:"powders"`
}

// Added is what adding a batch did.
type Added string

const (
	New       Added = "added"
	Replaced  Added = "replaced an earlier grading of the same photos"
	Unchanged Added = "was there already"
)

// Travel is the name under which the history keeps a piece's largest ΔE00
// between two viewing angles, beside the names of study.Faults.
const Travel = "colour travel"

// Add puts a batch into the history, results being the content of its
// results.json. The same photos graded again replace the earlier grading and
// keep its place and the earlier of the two dates.
func (s *Store) Add(results []byte, gradedAt time.Time) (Batch, Added, error) {
	r, err := parse(results)
	if err != nil {
		return Batch{}, "", err
	}
	packed, err := pack(results)
	if err != nil {
		return Batch{}, "", err
	}
	tx, err := s.db.Begin()
	if err != nil {
		return Batch{}, "", err
	}
	defer tx.Rollback() // does nothing after Commit
	gradedAt = gradedAt.UTC().Truncate(time.Second)
	identity, added := identify(r), New
	var id *int64
	var before string
	var packedBefore []byte
	err = tx.QueryRow(`SELECT id, graded_at, results FROM batches WHERE identity = ?`, identity).Scan(&id, &before, &packedBefore)
	switch {
	case err == nil:
		added = Replaced
		if then, err := time.Parse(time.RFC3339, before); err == nil && then.Before(gradedAt) {
			gradedAt = then
		}
		if bytes.Equal(packedBefore, packed) && before == gradedAt.Format(time.RFC3339) {
			b, err := batch(tx, *id)
			return b, Unchanged, err
		}
		if _, err := tx.Exec(`DELETE FROM batches WHERE id = ?`, *id); err != nil {
			return Batch{}, "", err
		}
	case !errors.Is(err, sql.ErrNoRows):
		return Batch{}, "", err
	}
	inserted, err := tx.Exec(`INSERT INTO batches (id, identity, name, graded_at, results) VALUES (?, ?, ?, ?, ?)`,
		id, identity, r.Batch.Name, gradedAt.Format(time.RFC3339), packed)
	if err != nil {
		return Batch{}, "", err
	}
	newID, err := inserted.LastInsertId()
	if err != nil {
		return Batch{}, "", err
	}
	for _, p := range r.Pieces {
		if err := addPiece(tx, newID, r.Batch.Name, p); err != nil {
			return Batch{}, "", fmt.Errorf("piece %s: %w", p.Piece, err)
		}
	}
	b, err := batch(tx, newID)
	if err != nil {
		return Batch{}, "", err
	}
	return b, added, tx.Commit()
}

func addPiece(tx *sql.Tx, batchID int64, batchName string, p inspect.Piece) error {
	sheet, err := json.Marshal(p.Sheet)
	if err != nil {
		return err
	}
	words := []string{p.Piece, batchName}
	for _, v := range p.Sheet {
		words = append(words, v)
	}
	slices.Sort(words[2:]) // a map has no order; the same piece must give the same row
	inserted, err := tx.Exec(`INSERT INTO pieces (batch_id, piece, verdict, powder, sheet, words) VALUES (?, ?, ?, ?, ?, ?)`,
		batchID, p.Piece, string(p.Verdict), p.Sheet["powder"], string(sheet), strings.ToLower(strings.Join(words, "\n")))
	if err != nil {
		return err
	}
	id, err := inserted.LastInsertId()
	if err != nil {
		return err
	}
	measure := func(name string, faulty *bool, size *float64) error {
		_, err := tx.Exec(`INSERT INTO measures (piece_id, name, faulty, size) VALUES (?, ?, ?, ?)`, id, name, faulty, size)
		return err
	}
	for _, f := range study.Faults {
		faulty, judged := f.Of(p)
		if judged {
			if err := measure(f.Name, &faulty, f.Size(p)); err != nil {
				return err
			}
		}
	}
	if p.Travel != nil && p.Travel.DeltaE00Max != nil {
		return measure(Travel, nil, p.Travel.DeltaE00Max)
	}
	return nil
}

// identify names a batch by its pieces and photos, not by what was measured.
func identify(r *inspect.Results) string {
	var lines []string
	for _, p := range r.Pieces {
		lines = append(lines, "piece "+p.Piece)
		for _, photo := range p.Photos {
			lines = append(lines, "photo "+photo.File)
		}
	}
	slices.Sort(lines)
	return fmt.Sprintf("%x", sha256.Sum256([]byte(r.Batch.Name+"\n"+strings.Join(lines, "\n"))))
}

func parse(results []byte) (*inspect.Results, error) {
	var r inspect.Results
	if err := json.Unmarshal(results, &r); err != nil {
		return nil, fmt.Errorf("not a results file: %w", err)
	}
	if r.Schema != inspect.Schema {
		return nil, fmt.Errorf("schema is %q, this program reads %q: grade the batch again", r.Schema, inspect.Schema)
	}
	return &r, nil
}

func pack(b []byte) ([]byte, error) {
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	if _, err := w.Write(b); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

func unpack(b []byte) ([]byte, error) {
	r, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(r)
}

// readTime reads a time as the store keeps it, for the user's clock: a batch
// graded on the 14th must not be listed on the 13th because it was night in Greenwich.
func readTime(when string) (time.Time, error) {
	at, err := time.Parse(time.RFC3339, when)
	return at.Local(), err
}

// selectBatches lists batches with their counts; a WHERE may follow it.
const selectBatches = `SELECT b.id, b.name, b.graded_at,
	(SELECT count(*) FROM pieces WHERE batch_id = b.id),
	(SELECT count(*) FROM pieces WHERE batch_id = b.id AND verdict = 'pass'),
	(SELECT count(*) FROM pieces WHERE batch_id = b.id AND verdict = 'fail'),
	(SELECT count(*) FROM pieces WHERE batch_id = b.id AND verdict = 'retake'),
	(SELECT json_group_array(powder) FROM (SELECT DISTINCT powder FROM pieces WHERE batch_id = b.id AND powder <> '' ORDER BY powder))
	FROM batches b `

func scanBatch(row interface{ Scan(...any) error }) (Batch, error) {
	var b Batch
	var when, powders string
	if err := row.Scan(&b.ID, &b.Name, &when, &b.Pieces, &b.Pass, &b.Fail, &b.Retake, &powders); err != nil {
		return Batch{}, err
	}
	var err error
	if b.GradedAt, err = readTime(when); err != nil {
		return Batch{}, err
	}
	return b, json.Unmarshal([]byte(powders), &b.Powders)
}

func batch(from interface {
	QueryRowContext(context.Context, string, ...any) *sql.Row
}, id int64) (Batch, error) {
	b, err := scanBatch(from.QueryRowContext(context.Background(), selectBatches+`WHERE b.id = ?`, id))
	if errors.Is(err, sql.ErrNoRows) {
		return Batch{}, fmt.Errorf("the history has no batch %d; list shows those it has", id)
	}
	return b, err
}

// List returns all batches, the latest first.
func (s *Store) List() ([]Batch, error) {
	rows, err := s.db.Query(selectBatches + `ORDER BY b.graded_at DESC, b.id DESC`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	batches := []Batch{}
	for rows.Next() {
		b, err := scanBatch(rows)
		if err != nil {
			return nil, err
		}
		batches = append(batches, b)
	}
	return batches, rows.Err()
}

// Results returns the results.json of a batch as it was added.
func (s *Store) Results(id int64) ([]byte, error) {
	var packed []byte
	err := s.db.QueryRow(`SELECT results FROM batches WHERE id = ?`, id).Scan(&packed)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, fmt.Errorf("the history has no batch %d; list shows those it has", id)
	}
	if err != nil {
		return nil, err
	}
	return unpack(packed)
}

// Delete removes a batch and all its pieces and returns what it was.
func (s *Store) Delete(id int64) (Batch, error) {
	tx, err := s.db.Begin()
	if err != nil {
		return Batch{}, err
	}
	defer tx.Rollback()
	b, err := batch(tx, id)
	if err != nil {
		return Batch{}, err
	}
	if _, err := tx.Exec(`DELETE FROM batches WHERE id = ?`, id); err != nil {
		return Batch{}, err
	}
	return b, tx.Commit()
}
