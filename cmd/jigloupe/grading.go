package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"golang.org/x/sync/errgroup"

	"jigloupe/inspect"
	"jigloupe/reports"
)

// grading is a batch to grade and where to.
type grading struct {
	batch    string
	out      string // "" means the folder jigloupe inside the batch
	limits   *inspect.Limits
	card     float64 // its reflectance, 0 means 18 %
	jobs     int     // 0 means one per core
	paper    string
	progress func(stage string, done, of int)
}

// outDir is where the results go.
func (g grading) outDir() string {
	if g.out == "" {
		return filepath.Join(g.batch, "jigloupe")
	}
	return g.out
}

// run grades the batch and writes everything about it.
func (g grading) run(ctx context.Context) (*inspect.Results, error) {
	b, err := inspect.ReadBatch(g.batch)
	if err != nil {
		return nil, notABatch(g.batch, err)
	}
	out, err := openOutput(g.outDir(), g.batch)
	if err != nil {
		return nil, err
	}
	defer out.discard()
	r, err := g.measure(ctx, b, out.stage)
	if err != nil {
		return nil, err
	}
	if err := g.report(ctx, r, b, out.stage); err != nil {
		return nil, err
	}
	return r, out.publish()
}

// measure grades the photos and saves their masks and cut-outs.
func (g grading) measure(ctx context.Context, b *inspect.BatchFolder, dir string) (*inspect.Results, error) {
	var files []string
	for _, f := range b.Photos {
		files = append(files, f.File)
	}
	names := evidenceNames(files)
	// Saving runs beside measuring, so that no photo waits for another's disk.
	var saving errgroup.Group
	saving.SetLimit(g.atOnce())
	done := 0
	g.progress("photos", done, len(files))
	r, err := inspect.Grade(ctx, b, inspect.Options{Limits: g.limits, Reflectance: g.card, Jobs: g.jobs, Version: version},
		func(ph *inspect.Photo, e *inspect.Evidence) error {
			done++
			g.progress("photos", done, len(files))
			if e == nil {
				return nil
			}
			mask, picture := "masks/"+names[ph.File]+".png", "pictures/"+names[ph.File]+".jpg"
			ph.Head.Mask, ph.Picture.File = mask, picture
			saving.Go(func() error {
				return errors.Join(savePNG(filepath.Join(dir, mask), e.Mask), saveJPEG(filepath.Join(dir, picture), e.Picture))
			})
			return nil
		})
	return r, errors.Join(err, saving.Wait())
}

// report writes everything that is made from the results.
func (g grading) report(ctx context.Context, r *inspect.Results, b *inspect.BatchFolder, dir string) error {
	g.progress("report", 0, 0)
	defer g.progress("done", 0, 0)
	day := newestPhoto(b)
	var work errgroup.Group
	work.SetLimit(g.atOnce())
	work.Go(func() error { return reports.WritePage(dir, r) })
	work.Go(func() error { return reports.WritePDF(filepath.Join(dir, "report.pdf"), r, dir, g.paper) })
	work.Go(func() error { return reports.WriteCSV(dir, r) })
	work.Go(func() error { return reports.WriteCGATS(filepath.Join(dir, "travel.txt"), r, day) })
	for i := range r.Pieces {
		for _, ph := range r.Pieces[i].Photos {
			if ph.Picture == nil || ctx.Err() != nil {
				continue
			}
			work.Go(func() error { return annotate(dir, ph) })
		}
	}
	if err := errors.Join(work.Wait(), ctx.Err()); err != nil {
		return err
	}
	return reports.WriteResults(dir, r)
}

// annotate draws what was found in a photo over its cut-out.
func annotate(dir string, ph inspect.Photo) error {
	plain, err := os.ReadFile(filepath.Join(dir, ph.Picture.File))
	if err != nil {
		return err
	}
	picture, err := jpeg.Decode(bytes.NewReader(plain))
	if err != nil {
		return fmt.Errorf("%s: %w", ph.Picture.File, err)
	}
	return saveJPEG(filepath.Join(dir, "annotated", filepath.Base(ph.Picture.File)), reports.Draw(picture, ph))
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

// pictureQuality is high because pictures are cropped and enlarged again for
// the page; by eye on the demo.
const pictureQuality = 90

func saveJPEG(path string, m image.Image) error {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: pictureQuality}); err != nil {
		return fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	return os.WriteFile(path, b.Bytes(), 0o644)
}

func savePNG(path string, m image.Image) error {
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, m); err != nil {
		return fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	return os.WriteFile(path, b.Bytes(), 0o644)
}

// notABatch turns the usual mistakes about the folder into a next step.
func notABatch(dir string, err error) error {
	info, stat := os.Stat(dir)
	switch {
	case errors.Is(stat, os.ErrNotExist):
		return hinted{fmt.Errorf("there is no folder %s", dir), "check the spelling, and that you are in the folder you think you are in"}
	case stat == nil && !info.IsDir():
		return hinted{fmt.Errorf("%s is a file, not a folder of photos", dir),
			"grade takes the folder: jigloupe grade " + filepath.Dir(dir) + "; for a single photo: jigloupe check " + dir}
	}
	return err
}
