package main

import (
	"archive/tar"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"jigloupe/cmd/jigloupe/fleet"
	"jigloupe/inspect"
)

// fleetFlags are the flags of every command that has to do with a fleet.
func fleetFlags(cmd *cobra.Command, o *fleet.Options, what string) {
	cmd.Flags().StringVar(&o.Server, "fleet", "", what+"; its `address` such as nats://HOST or tls://HOST, or the name of a NATS context")
	cmd.Flags().StringVar(&o.NKey, "fleet-nkey", "", "be let into the fleet by the NKey seed in this `file`; jigloupe fleet makes one")
	cmd.Flags().StringVar(&o.Creds, "fleet-creds", "", "be let into the fleet by the user credentials in this `file`")
	cmd.Flags().StringVar(&o.CA, "fleet-ca", "", "trust a server whose certificate is signed by the one in this `file`")
}

// fleetError adds what to do about a fleet that is not there or not open.
func fleetError(o fleet.Options, err error) error {
	if !errors.Is(err, fleet.ErrNoConnection) {
		return err
	}
	if !strings.Contains(o.Server, "://") {
		return hinted{err, "write an address as nats://HOST; without nats:// or tls:// it is the name of a NATS context"}
	}
	return hinted{err, "is the fleet running (jigloupe fleet), is the address right, and does it let you in (--fleet-nkey)?"}
}

// askFleet connects to the fleet.
func (g grading) askFleet(ctx context.Context) (*fleet.Asker, error) {
	program, err := g.contents.thisProgram()
	if err != nil {
		return nil, err
	}
	a, err := fleet.Ask(ctx, g.fleet, program, g.say)
	return a, fleetError(g.fleet, err)
}

// hereOneByOne keeps those few pieces that can't go to the fleet from filling
// the memory all at once.
var hereOneByOne sync.Mutex

// gradeByFleet has a piece graded elsewhere and saves its masks and pictures.
func (g grading) gradeByFleet(ctx context.Context, a *fleet.Asker, w pieceWork, o inspect.Options, dir string) (*inspect.Piece, error) {
	batch := *w.batch
	batch.Dir = ""
	answer, err := a.Grade(ctx, w.batch.Dir, &fleet.Job{Key: w.key, Batch: &batch, Files: w.files, Options: o})
	if errors.Is(err, fleet.ErrNotForFleet) {
		hereOneByOne.Lock()
		defer hereOneByOne.Unlock()
		o.Jobs = 1
		return gradeHere(ctx, w, o, dir, func() {})
	}
	if err != nil {
		return nil, err
	}
	p, shots, err := unpack(answer)
	if err != nil || len(p.Photos) != len(w.batch.Photos) {
		return nil, fmt.Errorf("%s gave an answer on piece %s that can't be read: %v", g.fleet.Name(), w.batch.Pieces[0].Piece, err)
	}
	for k := range p.Photos {
		if shots[k] != nil {
			if err := shots[k].save(dir, w.names[w.batch.Photos[k].File], &p.Photos[k]); err != nil {
				return nil, err
			}
		}
	}
	return p, nil
}

// givenUp is a piece that the fleet could not grade: to be photographed again.
func givenUp(ctx context.Context, w pieceWork, o inspect.Options) (inspect.Piece, error) {
	batch := *w.batch
	batch.Photos = slices.Clone(batch.Photos)
	for k := range batch.Photos {
		batch.Photos[k].Refused = "Workers of the fleet ended again and again while they graded this piece, so it was given up. " +
			"Open its photos and save them as JPEG or PNG, or take them again."
	}
	r, err := inspect.Grade(ctx, &batch, o, func(*inspect.Photo, *inspect.Evidence) error { return nil })
	if err != nil {
		return inspect.Piece{}, err
	}
	return r.Pieces[0], nil
}

// gradeForOthers is what a worker does.
func gradeForOthers(ctx context.Context, j *fleet.Job) ([]byte, error) {
	shots := map[string]*pictures{}
	r, err := inspect.Grade(ctx, j.Batch, j.Options, func(ph *inspect.Photo, e *inspect.Evidence) error {
		var err error
		shots[ph.File], err = encode(ph, e)
		return err
	})
	if err != nil {
		return nil, err
	}
	return pack(&r.Pieces[0], shots)
}

// pack writes a graded piece and the pictures of its photos, by file, as a tar
// file: piece.json, and of each photo 0/mask.png and so on.
func pack(p *inspect.Piece, shots map[string]*pictures) ([]byte, error) {
	text, err := json.Marshal(p)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	t := tar.NewWriter(&out)
	put := func(name string, content []byte) {
		if err == nil {
			err = t.WriteHeader(&tar.Header{Name: name, Mode: 0o600, Size: int64(len(content))})
		}
		if err == nil {
			_, err = t.Write(content)
		}
	}
	put("piece.json", text)
	for k, ph := range p.Photos {
		if s := shots[ph.File]; s != nil {
			if s.mask != nil {
				put(fmt.Sprintf("%d/mask.png", k), s.mask)
			}
			put(fmt.Sprintf("%d/picture.jpg", k), s.picture)
			put(fmt.Sprintf("%d/annotated.jpg", k), s.annotated)
		}
	}
	if err != nil {
		return nil, err
	}
	return out.Bytes(), t.Close()
}

// unpack reads what pack wrote; the pictures are in the order of the photos,
// nil where a photo left none.
func unpack(answer []byte) (*inspect.Piece, []*pictures, error) {
	files := map[string][]byte{}
	for t := tar.NewReader(bytes.NewReader(answer)); ; {
		h, err := t.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, nil, err
		}
		if files[h.Name], err = io.ReadAll(t); err != nil {
			return nil, nil, err
		}
	}
	p := &inspect.Piece{}
	if err := json.Unmarshal(files["piece.json"], p); err != nil {
		return nil, nil, err
	}
	shots := make([]*pictures, len(p.Photos))
	for k, ph := range p.Photos {
		s := &pictures{files[fmt.Sprintf("%d/mask.png", k)], files[fmt.Sprintf("%d/picture.jpg", k)], files[fmt.Sprintf("%d/annotated.jpg", k)]}
		switch {
		case s.picture == nil:
			continue
		case ph.Picture == nil || s.mask != nil && ph.Head == nil:
			return nil, nil, fmt.Errorf("pictures of %s, in which nothing was found", ph.File)
		}
		shots[k] = s
	}
	return p, shots, nil
}
