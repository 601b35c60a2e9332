package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"jigloupe/cmd/jigloupe/fleet"
	"jigloupe/inspect"
	"jigloupe/reports"
)

// grading is a batch to grade and where to.
type grading struct {
	batch    string
	out      string // "" means the folder jigloupe inside the batch
	limits   *inspect.Limits
	repeat   *inspect.Repeatability // nil when not known
	card     float64                // its reflectance, 0 means 18 %
	jobs     int                    // 0 means one per core
	paper    string
	progress func(stage string, done, of int)
	contents *contents
	fleet    fleet.Options // no server: grade here
	say      func(string)
}

// outDir is where the results go.
func (g grading) outDir() string {
	if g.out == "" {
		return filepath.Join(g.batch, "jigloupe")
	}
	return g.out
}

// run grades the batch and writes everything about it. It also returns what
// people say against its verdicts.
func (g grading) run(ctx context.Context) (*inspect.Results, map[string]reports.Overrule, error) {
	b, err := inspect.ReadBatch(g.batch)
	if err != nil {
		return nil, nil, notABatch(g.batch, err)
	}
	if err := g.fileByTags(ctx, b); err != nil {
		return nil, nil, err
	}
	out, err := openOutput(g.outDir(), g.batch)
	if err != nil {
		return nil, nil, err
	}
	defer out.close()
	for _, note := range b.Notes {
		g.say(note)
	}
	defer g.progress("done", 0, 0)
	r, err := g.measure(ctx, b, out)
	if err != nil {
		return nil, nil, err
	}
	unlock, err := lockFolder(out.dir) // from here on nobody overrules what is being replaced
	if err != nil {
		return nil, nil, err
	}
	defer unlock()
	people, err := reports.ReadOverrules(out.dir)
	if err != nil {
		return nil, nil, err
	}
	standing := people.Standing(r)
	if err := g.report(r, standing, b, out.stage); err != nil {
		return nil, nil, err
	}
	if ctx.Err() != nil {
		return nil, nil, ctx.Err()
	}
	return r, standing, out.publish()
}

// measure grades the batch piece by piece, for a piece depends on nothing but its
// own photos. One that was graded before from the same photos is taken as it was,
// and judged anew.
func (g grading) measure(ctx context.Context, b *inspect.BatchFolder, out *output) (*inspect.Results, error) {
	options := inspect.Options{Limits: g.limits, Reflectance: g.card, Version: version, Repeat: g.repeat}
	r, err := inspect.Grade(ctx, &inspect.BatchFolder{Dir: b.Dir, Columns: b.Columns, Notes: b.Notes, Setup: b.Setup}, options, nil)
	if err != nil {
		return nil, err
	}
	options.Limits, options.Repeat = nil, nil // what is measured doesn't depend on them
	r.Batch.Pieces, r.Batch.Photos = len(b.Pieces), len(b.Photos)
	r.Batch.Notes = append(r.Batch.Notes, r.Limits.Notes(b.Pieces)...)
	r.Pieces = make([]inspect.Piece, len(b.Pieces))
	works, err := g.split(b)
	if err != nil {
		return nil, err
	}
	for _, note := range samePhotos(works) {
		g.say(note)
		r.Batch.Notes = append(r.Batch.Notes, note)
	}
	known, err := out.known(works)
	if err != nil {
		return nil, err
	}
	if err := out.recordTags(g.contents); err != nil {
		return nil, err
	}
	keepRoom()
	atOnce := g.atOnce()
	var asker *fleet.Asker
	if g.fleet.Server != "" && slices.Contains(known, nil) {
		if asker, err = g.askFleet(ctx); err != nil {
			return nil, err
		}
		defer asker.Close()
		atOnce = fleet.UnderWay
	}
	options.Jobs = max(1, atOnce/max(1, len(works)))
	var hand sync.Mutex
	done := 0
	count := func(photos int) {
		hand.Lock()
		defer hand.Unlock()
		done += photos
		g.progress("photos", done, len(b.Photos))
	}
	pieces, ctx := errgroup.WithContext(ctx) // the first error, say of a full disk, stops the others
	pieces.SetLimit(atOnce)
	for k, w := range works {
		if p := known[k]; p != nil {
			r.Pieces[k] = *p
			count(len(w.batch.Photos))
			continue
		}
		pieces.Go(func() error {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			var p *inspect.Piece
			var err error
			if asker != nil && len(w.batch.Photos) > 0 {
				p, err = g.gradeByFleet(ctx, asker, w, options, out.stage)
				count(len(w.batch.Photos))
			} else {
				p, err = gradeHere(ctx, w, options, out.stage, func() { count(1) })
			}
			if errors.Is(err, fleet.ErrGaveUp) {
				r.Pieces[k], err = givenUp(ctx, w, options) // without a record: the next run tries again
				return err
			}
			if err != nil {
				return err
			}
			r.Pieces[k] = *p
			if g.changed(w) {
				return nil // no record: the next run grades it again
			}
			return out.record(w, p)
		})
	}
	if err := pieces.Wait(); err != nil {
		return nil, err
	}
	for k := range r.Pieces {
		p := &r.Pieces[k]
		r.Limits.Judge(p, g.repeat)
		switch p.Verdict {
		case inspect.Pass:
			r.Batch.Pass++
		case inspect.Fail:
			r.Batch.Fail++
		default:
			r.Batch.Retake++
		}
	}
	return r, nil
}

// gradeHere grades a piece on this machine and saves its masks and pictures.
func gradeHere(ctx context.Context, w pieceWork, o inspect.Options, dir string, measured func()) (*inspect.Piece, error) {
	r, err := inspect.Grade(ctx, w.batch, o, func(ph *inspect.Photo, e *inspect.Evidence) error {
		measured()
		return save(dir, w.names[ph.File], ph, e)
	})
	if err != nil {
		return nil, err
	}
	return &r.Pieces[0], nil
}

// report writes everything that is made from the results.
func (g grading) report(r *inspect.Results, standing map[string]reports.Overrule, b *inspect.BatchFolder, dir string) error {
	g.progress("report", 0, 0)
	if err := writeReadable(dir, r, standing, g.paper); err != nil {
		return err
	}
	if err := reports.WriteCGATS(filepath.Join(dir, "travel.txt"), r, newestPhoto(b)); err != nil {
		return err
	}
	return reports.WriteResults(dir, r)
}

// writeReadable writes what shows people the results in dir.
func writeReadable(dir string, r *inspect.Results, standing map[string]reports.Overrule, paper string) error {
	var work errgroup.Group
	work.Go(func() error { return reports.WritePage(dir, r, standing) })
	work.Go(func() error { return reports.WritePDF(filepath.Join(dir, "report.pdf"), r, standing, dir, paper) })
	work.Go(func() error { return reports.WriteCSV(dir, r, standing) })
	return work.Wait()
}

func (g grading) atOnce() int {
	if g.jobs > 0 {
		return g.jobs
	}
	return runtime.GOMAXPROCS(0)
}

// newestPhoto dates a batch: by its photos, so that grading them again gives
// the same bytes.
func newestPhoto(b *inspect.BatchFolder) time.Time {
	var newest time.Time
	for _, f := range b.Photos {
		if info, err := os.Stat(filepath.Join(b.Dir, f.File)); err == nil && info.ModTime().After(newest) {
			newest = info.ModTime()
		}
	}
	return newest
}

// notABatch turns the usual mistakes about the folder into a next step.
func notABatch(dir string, err error) error {
	info, stat := os.Stat(dir)
	switch {
	case errors.Is(stat, os.ErrNotExist):
		return hinted{fmt.Errorf("there is no folder %s", dir), checkSpelling}
	case stat == nil && !info.IsDir():
		return hinted{fmt.Errorf("%s is a file, not a folder of photos", dir),
			"grade takes the folder: jigloupe grade " + filepath.Dir(dir) + "; for a single photo: jigloupe check " + dir}
	case errors.Is(err, inspect.ErrNoPhotos):
		entries, _ := os.ReadDir(dir)
		for _, e := range entries {
			inner := filepath.Join(dir, e.Name())
			if _, inside := inspect.ReadBatch(inner); inside == nil && e.Name() != "jigloupe" {
				return hinted{err, "there are some in the folder inside it: jigloupe grade " + inner}
			}
		}
	}
	return err
}
