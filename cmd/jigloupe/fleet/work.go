package fleet

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync/atomic"
	"time"

	"github.com/nats-io/nats.go/jetstream"
	"golang.org/x/sync/errgroup"
	"golang.org/x/sync/semaphore"
)

const (
	// tries is how many workers may end while they grade a piece before it is
	// given up: more than bad luck, few enough to lose little to a bad photo.
	tries = 5
	// longest is how long a worker may take for a photo, the largest included;
	// after that it hangs.
	longest = 5 * time.Minute
)

// ackWait is how long a worker may be silent before its pieces go to another.
var ackWait = 10 * time.Second

// A Worker grades pieces for others.
type Worker struct {
	*fleet
	AtOnce int // pieces at a time
	Grade  func(context.Context, *Job) ([]byte, error)
	Say    func(string) // what somebody should know

	scratch string // folder for the photos under way
	done    atomic.Int64
}

// Work grades pieces until ctx is over, which is no error, and returns how
// many. A worker gets only jobs of the very same program, see Ask.
func (w *Worker) Work(ctx context.Context, o Options, program string) (int, error) {
	var err error
	if w.fleet, err = connect(ctx, o, w.Say); err != nil {
		return 0, err
	}
	defer w.conn.Close()
	scratch, err := newScratch(os.TempDir())
	if err != nil {
		return 0, err
	}
	defer scratch.remove()
	w.scratch = scratch.dir
	w.Say("waiting for pieces from " + w.name)
	in := inbox{fleet: w.fleet, stream: jobsStream, config: jetstream.ConsumerConfig{
		Durable: workersName(program), FilterSubject: "jigloupe.job." + program + ".>",
		AckPolicy: jetstream.AckExplicitPolicy, AckWait: ackWait, MaxAckPending: -1, InactiveThreshold: keep,
	}}
	slots := semaphore.NewWeighted(int64(w.AtOnce))
	pieces, ctx := errgroup.WithContext(ctx)
	for slots.Acquire(ctx, 1) == nil { // a piece is taken only when there is room for it
		msg := in.next(ctx)
		if msg == nil {
			break
		}
		letGo, taken := keepAlive(msg), int64(1)
		if deliveries(msg) > 1 {
			// A worker may have died of it. Graded alone, it can take no other
			// piece along, which would then look as bad.
			if slots.Acquire(ctx, int64(w.AtOnce)-1) != nil {
				letGo()
				msg.Nak()
				break
			}
			taken = int64(w.AtOnce)
		}
		pieces.Go(func() error {
			defer slots.Release(taken)
			defer letGo()
			return w.take(ctx, msg)
		})
	}
	err = pieces.Wait()
	return int(w.done.Load()), err
}

// keepAlive tells the queue that a job is being done, until letGo is called.
func keepAlive(msg jetstream.Msg) (letGo func()) {
	ctx, letGo := context.WithCancel(context.Background())
	go func() {
		tick := time.NewTicker(ackWait / 4)
		defer tick.Stop()
		for {
			select {
			case <-tick.C:
				msg.InProgress()
			case <-ctx.Done():
				return
			}
		}
	}()
	return letGo
}

func workersName(program string) string { return "workers-" + program[:16] }

func deliveries(msg jetstream.Msg) uint64 {
	m, err := msg.Metadata()
	if err != nil {
		return 1
	}
	return m.NumDelivered
}

// take does one job. An error is the worker's own trouble; the job then goes
// to another worker.
func (w *Worker) take(ctx context.Context, msg jetstream.Msg) error {
	j, err := readJob(msg.Data())
	if err != nil {
		w.Say("refused a job: " + err.Error())
		msg.Term()
		return nil
	}
	piece := j.Batch.Pieces[0].Piece
	if deliveries(msg) > tries {
		w.Say(fmt.Sprintf("piece %s: %d workers ended while they graded it; given up", piece, tries))
		w.tell(ctx, msg, gaveUp)
		return nil
	}
	type outcome struct {
		said string
		err  error
	}
	done := make(chan outcome, 1)
	go func() {
		said, err := w.do(ctx, j)
		done <- outcome{said, err}
	}()
	select {
	case o := <-done:
		if o.err != nil {
			return fmt.Errorf("piece %s: %w", piece, o.err)
		}
		w.tell(ctx, msg, o.said)
		return nil
	case <-time.After(longest * time.Duration(max(1, len(j.Files)))):
		return fmt.Errorf("piece %s hangs; start this worker again", piece)
	case <-ctx.Done(): // another worker takes it
		msg.Nak()
		return nil
	}
}

// tell lets whoever asked know, and takes the job off the queue. The other way
// round, a worker that ends in between would leave them waiting. Where the
// server does not answer, the job comes again.
func (w *Worker) tell(ctx context.Context, msg jetstream.Msg, said string) {
	to := strings.Split(msg.Subject(), ".")
	subject := "jigloupe.done." + strings.Join(to[len(to)-2:], ".")
	err := w.again(ctx, func(ctx context.Context) error {
		_, err := w.js.Publish(ctx, subject, []byte(said))
		return err
	})
	if err != nil {
		w.Say(w.name + ": " + err.Error())
		return
	}
	msg.Ack()
	if said == answered {
		w.done.Add(1)
	}
}

// do grades a piece in a folder of its own and puts the answer into the store.
func (w *Worker) do(ctx context.Context, j *Job) (said string, err error) {
	if _, err := w.answers.GetInfo(ctx, j.Key); err == nil {
		return answered, nil // by a worker that ended before it could say so
	}
	dir, err := os.MkdirTemp(w.scratch, "piece-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	root, err := os.OpenRoot(dir) // nothing leads out of it, whatever a photo is called
	if err != nil {
		return "", err
	}
	defer root.Close()
	for k, file := range j.Files {
		name := j.Batch.Photos[k].File
		err := w.again(ctx, func(ctx context.Context) error { return w.getPhoto(ctx, root, name, file) })
		var own *os.PathError
		switch {
		case errors.As(err, &own):
			return "", err
		case err != nil:
			return noPhotos, nil
		}
	}
	j.Batch.Dir, j.Options.Jobs = dir, 1
	answer, err := w.Grade(ctx, j)
	if err != nil {
		return "", err
	}
	err = w.again(ctx, func(ctx context.Context) error {
		_, err := w.answers.Put(ctx, jetstream.ObjectMeta{Name: j.Key}, bytes.NewReader(answer))
		return err
	})
	if err != nil { // not this worker's fault; nothing is lost but its work
		w.Say(w.name + ": " + err.Error())
		return noPhotos, nil
	}
	return answered, nil
}

// getPhoto writes a photo from the store into the folder, if it is the right one.
func (w *Worker) getPhoto(ctx context.Context, root *os.Root, name string, file File) error {
	ctx, stop := context.WithTimeout(ctx, transferTime)
	defer stop()
	object, err := w.photos.Get(ctx, file.Sum)
	if err != nil {
		return err
	}
	defer object.Close()
	root.Remove(name) // what a try before left
	f, err := root.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer f.Close()
	h := sha256.New()
	if n, err := io.Copy(io.MultiWriter(f, h), io.LimitReader(object, file.Size+1)); err != nil {
		return err
	} else if n != file.Size || hex.EncodeToString(h.Sum(nil)) != file.Sum {
		return errNotThatPhoto
	}
	return f.Close()
}
