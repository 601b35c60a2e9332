package main

import (
	"bytes"
	"crypto/sha256"
	"debug/elf"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"jigloupe/calib"
	"jigloupe/cmd/jigloupe/fleet"
	"jigloupe/inspect"
)

// Grading a batch again, or after it was stopped, looks only at the pieces
// that changed: every piece leaves a record in the folder .pieces beside its
// masks, with a key that covers all its measuring depends on. Judging takes no time
// and is done anew.

// pieceWork is one piece of a batch to grade.
type pieceWork struct {
	batch *inspect.BatchFolder // with this piece alone
	names map[string]string    // of its photos' masks and pictures, see evidenceNames
	files []fleet.File         // what its photos hold, in the order of the batch
	key   string
}

// pieceRecord is the content of a record.
type pieceRecord struct {
	Key   string        `json:"key"`
	Piece inspect.Piece `json:"piece"`
}

// split parts a batch into its pieces, each with its key.
func (g grading) split(b *inspect.BatchFolder) ([]pieceWork, error) {
	var files []string
	for _, f := range b.Photos {
		files = append(files, f.File)
	}
	names := evidenceNames(files)
	works := make([]pieceWork, len(b.Pieces))
	place := map[string]int{}
	for k, row := range b.Pieces {
		works[k] = pieceWork{batch: &inspect.BatchFolder{Dir: b.Dir, Pieces: b.Pieces[k : k+1], Setup: b.Setup}, names: map[string]string{}}
		place[row.Piece] = k
	}
	for _, f := range b.Photos {
		w := &works[place[f.Piece]]
		w.batch.Photos = append(w.batch.Photos, f)
		w.names[f.File] = names[f.File]
	}
	program, err := g.contents.thisProgram()
	if err != nil {
		return nil, err
	}
	for k := range works {
		w := &works[k]
		for _, f := range w.batch.Photos {
			w.files = append(w.files, g.photoNow(b.Dir, f))
		}
		all, err := json.Marshal([]any{program, g.card, w.batch.Setup, w.batch.Pieces, w.batch.Photos, w.names, w.files})
		if err != nil {
			return nil, err
		}
		w.key = fmt.Sprintf("%x", sha256.Sum256(all))
	}
	return works, nil
}

// samePhotos are notes on photos that two pieces have: one of the two was copied or
// named by mistake.
func samePhotos(works []pieceWork) []string {
	var notes []string
	type place struct{ piece, file string }
	first := map[string]place{}
	for _, w := range works {
		for k, f := range w.batch.Photos {
			if w.files[k].Size == 0 {
				continue
			}
			at, sum := place{f.Piece, f.File}, w.files[k].Sum
			if before, ok := first[sum]; !ok {
				first[sum] = at
			} else if before.piece != at.piece {
				notes = append(notes, fmt.Sprintf("%s of piece %s and %s of piece %s are one photo: take away or rename one of them.", before.file, before.piece, at.file, at.piece))
			}
		}
	}
	return notes
}

// photoNow is what a photo holds, empty when it is gone.
func (g grading) photoNow(dir string, f inspect.BatchFile) fleet.File {
	file, err := g.contents.file(filepath.Join(dir, f.File))
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		file.Sum = err.Error() // the grading will say so too
	}
	return file
}

// changed tells whether a photo of the piece is no longer what its key says: it
// was being copied, say, while it was measured.
func (g grading) changed(w pieceWork) bool {
	for k, f := range w.batch.Photos {
		if g.photoNow(w.batch.Dir, f) != w.files[k] {
			return true
		}
	}
	return false
}

// thisProgram tells one build of the program from another, also while version
// stays the same, and on another machine.
func (c *contents) thisProgram() (string, error) {
	name, err := os.Executable()
	if err != nil {
		return "", err
	}
	if id := buildID(name); id != "" {
		return id, nil
	}
	f, err := c.file(name)
	return f.Sum, err
}

// buildID is what go build made of all that went into a program and of the result, and
// quicker to read than the program; "" where it has been left out.
func buildID(name string) string {
	f, err := elf.Open(name)
	if err != nil {
		return ""
	}
	defer f.Close()
	const header = 16 // an ELF note's sizes and type, and its name: Go
	note := f.Section(".note.go.buildid")
	if note == nil {
		return ""
	}
	data, err := note.Data()
	if err != nil || len(data) < header {
		return ""
	}
	return string(bytes.TrimRight(data[header:], "\x00"))
}

// recordName is where a piece's record lies, whatever the piece is called.
func (w *pieceWork) recordName() string {
	sum := sha256.Sum256([]byte(w.batch.Pieces[0].Piece))
	return filepath.Join(".pieces", hex.EncodeToString(sum[:16])+".json")
}

// evidence lists the files that a piece's photos left.
func evidence(p *inspect.Piece) []string {
	var files []string
	for _, ph := range p.Photos {
		if ph.Head != nil {
			files = append(files, ph.Head.Mask)
		}
		if ph.Picture != nil {
			files = append(files, ph.Picture.File, filepath.Join("annotated", filepath.Base(ph.Picture.File)))
		}
	}
	return files
}

// known finds the pieces that need no grading, nil for the others, brings
// their files into the stage and clears the stage of everything else.
func (o *output) known(works []pieceWork) ([]*inspect.Piece, error) {
	known := make([]*inspect.Piece, len(works))
	for k := range works {
		w := &works[k]
		for _, dir := range []string{o.stage, o.dir} {
			p := readRecord(filepath.Join(dir, w.recordName()), w.key)
			if p == nil || !o.fetch(dir, append(evidence(p), w.recordName())) {
				continue
			}
			known[k] = p
			o.finished(w, p)
			break
		}
	}
	return known, o.clear()
}

// finished notes which files of the stage belong to a piece.
func (o *output) finished(w *pieceWork, p *inspect.Piece) {
	o.hand.Lock()
	defer o.hand.Unlock()
	for _, f := range append(evidence(p), w.recordName()) {
		o.keep[filepath.FromSlash(f)] = true
	}
}

// readRecord is the piece in a record, nil when there is none with that key or it names
// files elsewhere, which this program's own don't.
func readRecord(path, key string) *inspect.Piece {
	text, err := os.ReadFile(path)
	var r pieceRecord
	if err != nil || json.Unmarshal(text, &r) != nil || r.Key != key ||
		slices.ContainsFunc(evidence(&r.Piece), func(f string) bool { return !filepath.IsLocal(f) }) {
		return nil
	}
	return &r.Piece
}

// fetch brings files from dir into the stage, as links where that works, and
// reports whether all were there.
func (o *output) fetch(dir string, files []string) bool {
	for _, f := range files {
		from, to := filepath.Join(dir, f), filepath.Join(o.stage, f)
		if from == to {
			if _, err := os.Stat(to); err != nil {
				return false
			}
			continue
		}
		os.Remove(to)
		if os.Link(from, to) == nil {
			continue
		}
		content, err := os.ReadFile(from)
		if err != nil || os.WriteFile(to, content, 0o644) != nil {
			return false
		}
	}
	return true
}

// clear removes all files from the stage but those of finished pieces.
func (o *output) clear() error {
	return filepath.WalkDir(o.stage, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		if rel, err := filepath.Rel(o.stage, path); err != nil || o.keep[rel] {
			return err
		}
		return os.Remove(path)
	})
}

// record notes that a piece is graded; its masks and pictures are there. A
// piece without photos is graded as quickly as its record is read.
func (o *output) record(w pieceWork, p *inspect.Piece) error {
	if len(p.Photos) == 0 {
		return nil
	}
	text, err := json.Marshal(pieceRecord{w.key, *p})
	if err != nil {
		return err
	}
	path := filepath.Join(o.stage, w.recordName())
	if err := os.WriteFile(path+".new", text, 0o644); err != nil {
		return err
	}
	if err := os.Rename(path+".new", path); err != nil {
		return err
	}
	o.finished(&w, p)
	return nil
}

// contents remembers what files hold as long as their size and time stay.
type contents struct {
	hand  sync.Mutex
	files map[string]fleet.File
	tags  map[string]string // the piece that the tag in a photo says, by sum
}

// file says what the named file holds.
func (c *contents) file(path string) (fleet.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return fleet.File{}, err
	}
	if err := calib.Readable(path); err != nil {
		return fleet.File{}, err
	}
	state := strings.Join([]string{path, fmt.Sprint(info.Size()), fmt.Sprint(info.ModTime().UnixNano())}, "\x00")
	c.hand.Lock()
	defer c.hand.Unlock()
	if s, ok := c.files[state]; ok {
		return s, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return fleet.File{}, err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	if err != nil {
		return fleet.File{}, err
	}
	if c.files == nil {
		c.files = map[string]fleet.File{}
	}
	c.files[state] = fleet.File{Sum: hex.EncodeToString(h.Sum(nil)), Size: n}
	return c.files[state], nil
}
