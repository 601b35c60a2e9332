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
	Mask    *image.Gray  // 255 where the painted head is, 0 elsewhere in its part of the upright photo and beyond; nil where none was found
	Picture *image.NRGBA // the upright cut-out described by Photo.Picture; all of the photo where no head was found

	places *places // nil when no colour was measured
	lit    *lit    // nil when no coat was measured, and without a twin
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
	photos, seen, err := measureAll(ctx, b, o, each)
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
const unmeasured = "Orange peel is not measured, half or more of the craters and of the lumps that face the camera are missed, and a large bare patch in the middle of a head can be taken for the coat. Nor is the rim judged, the flat end of a collar or what is narrower than a quarter of a millimetre on the body: there gloss looks like lead. Look at the pictures for those."

// measureAll measures the photos, several at once, in the order of the batch.
func measureAll(ctx context.Context, b *BatchFolder, o Options, each func(*Photo, *Evidence) error) ([]Photo, []*places, error) {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	photos, seen := make([]Photo, len(b.Photos)), make([]*places, len(b.Photos))
	twins := twinsOf(b.Photos)
	next := make(chan int)
	var wg sync.WaitGroup
	var hand sync.Mutex
	for range min(o.Jobs, len(photos)) {
		wg.Go(func() {
			for k := range next {
				ph, ev := measureFile(b, b.Photos[k], len(twins[k].photos) > 1, o.Reflectance)
				hand.Lock()
				photos[k] = ph
				if ev != nil {
					seen[k] = ev.places
				}
				if err := twins[k].done(k, ev, photos, each); err != nil {
					stop(err)
				}
				hand.Unlock()
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

// twins are the photos of one view of a piece when some differ in the lamp,
// else one photo. Their marks are set against each other when the last is
// measured, and only then are they handed on.
type twins struct {
	photos   []int // of the batch
	left     int   // still to be measured
	evidence map[int]*Evidence
}

// twinsOf gives each photo of a batch its twins, itself among them.
func twinsOf(files []BatchFile) []*twins {
	type view struct{ piece, view string }
	moved, views := map[view]bool{}, map[view]*twins{}
	for _, f := range files {
		moved[view{f.Piece, f.View}] = moved[view{f.Piece, f.View}] || f.Lamp != ""
	}
	out := make([]*twins, len(files))
	for k, f := range files {
		v := view{f.Piece, f.View}
		t := views[v]
		if t == nil || !moved[v] {
			t = &twins{evidence: map[int]*Evidence{}}
			views[v] = t
		}
		t.photos, t.left, out[k] = append(t.photos, k), t.left+1, t
	}
	return out
}

// done takes what a photo left. After the last one it hands all of them on.
func (t *twins) done(k int, ev *Evidence, photos []Photo, each func(*Photo, *Evidence) error) error {
	t.evidence[k] = ev
	if t.left--; t.left > 0 {
		return nil
	}
	var all []*Photo
	var seen []*lit
	for _, j := range t.photos {
		all, seen = append(all, &photos[j]), append(seen, nil)
		if e := t.evidence[j]; e != nil {
			seen[len(seen)-1] = e.lit
		}
	}
	settle(all, seen)
	for _, j := range t.photos {
		if err := each(&photos[j], t.evidence[j]); err != nil {
			return err
		}
	}
	t.evidence = nil
	return nil
}

func folderName(dir string) string {
	if abs, err := filepath.Abs(dir); err == nil {
		return filepath.Base(abs)
	}
	return filepath.Base(dir)
}
