package inspect

import (
	"context"
	"image"
	"path/filepath"
	"runtime"
	"sync"

	"jigloupe/calib"
)

// Options say how a batch is graded. The zero value grades with the default
// limits, an 18 % card and as many photos at once as there are cores.
type Options struct {
	Limits      *Limits
	Reflectance float64        // of the card, in (0, 1]; 0 means 18 %
	Jobs        int            // photos at once; 0 means one per core
	Version     string         // of the program, for the results
	Repeat      *Repeatability // how far measures scatter, for the verdicts; nil when not known
}

// Evidence is what a photo leaves for the reports; it is handed on as soon as
// the photo is measured and kept nowhere.
type Evidence struct {
	Mask    *image.Gray  // 255 where the painted head is, as large as the upright photo; nil where none was found
	Picture *image.NRGBA // the upright cut-out described by Photo.Picture; all of the photo where no head was found

	places *places // nil when no colour was measured
}

// Grade measures every photo of a batch, merges the photos of each piece and
// judges it. Each is called once per photo, from one goroutine at a time, in
// no particular order, with nil evidence where the photo could not be read; an error
// from it ends the grading. A photo that cannot be read or measured is no
// error: its piece is to be photographed again.
func Grade(ctx context.Context, b *BatchFolder, o Options, each func(*Photo, *Evidence) error) (*Results, error) {
	limits := DefaultLimits()
	if o.Limits != nil {
		limits = *o.Limits
	}
	if o.Reflectance == 0 {
		o.Reflectance = calib.CardReflectance
	}
	if o.Jobs == 0 {
		o.Jobs = runtime.GOMAXPROCS(0)
	}
	photos, seen, err := measureAll(ctx, b, o, limits, each)
	if err != nil {
		return nil, err
	}
	r := &Results{
		Schema: Schema,
		Tool:   Tool{Name: "jigloupe", Version: o.Version},
		Batch: Batch{
			Name: folderName(b.Dir), Columns: append([]string{}, b.Columns...),
			Pieces: len(b.Pieces), Photos: len(b.Photos), Notes: append([]string{}, b.Notes...),
		},
		Limits: limits,
		Repeat: o.Repeat,
		Pieces: []Piece{},
	}
	for _, row := range b.Pieces {
		var at []*places
		p := Piece{Piece: row.Piece, Sheet: row.Sheet, Photos: []Photo{}, Reasons: []Reason{}}
		for k, f := range b.Photos {
			if f.Piece == row.Piece {
				p.Photos, at = append(p.Photos, photos[k]), append(at, seen[k])
			}
		}
		p.merge()
		p.LampMoves = lampMoves(p.Photos, at)
		r.Pieces = append(r.Pieces, p)
	}
	r.Batch.Notes = append(r.Batch.Notes, b.Setup.note(), unmeasured)
	if o.Repeat != nil {
		r.Batch.Notes = append(r.Batch.Notes, o.Repeat.note())
	}
	for k := range r.Pieces {
		p := &r.Pieces[k]
		limits.Judge(p, o.Repeat)
		switch p.Verdict {
		case Pass:
			r.Batch.Pass++
		case Fail:
			r.Batch.Fail++
		default:
			r.Batch.Retake++
		}
	}
	return r, nil
}

// unmeasured says what no measure looks for yet, so that a pass does not say
// more than it can.
const unmeasured = "Orange peel is not measured, few craters are found, lumps that face the camera are found by half, and a large bare patch in the middle of a head can be taken for the coat. Look at the pictures for those."

// measureAll measures the photos, several at once, in the order of the batch.
func measureAll(ctx context.Context, b *BatchFolder, o Options, limits Limits, each func(*Photo, *Evidence) error) ([]Photo, []*places, error) {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	photos, seen := make([]Photo, len(b.Photos)), make([]*places, len(b.Photos))
	next := make(chan int)
	var wg sync.WaitGroup
	var hand sync.Mutex
	for range min(o.Jobs, len(photos)) {
		wg.Go(func() {
			for k := range next {
				ph, ev := measureFile(b, b.Photos[k], o.Reflectance, limits)
				hand.Lock()
				if err := each(&ph, ev); err != nil {
					stop(err)
				}
				hand.Unlock()
				photos[k] = ph
				if ev != nil {
					seen[k] = ev.places
				}
			}
		})
	}
	for k := range photos {
		select {
		case next <- k:
			continue
		case <-ctx.Done():
		}
		break
	}
	close(next)
	wg.Wait()
	return photos, seen, context.Cause(ctx)
}

func folderName(dir string) string {
	if abs, err := filepath.Abs(dir); err == nil {
		return filepath.Base(abs)
	}
	return filepath.Base(dir)
}
