package fleet

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go/jetstream"
	"github.com/nats-io/nuid"
)

// UnderWay is how many pieces whoever asks should have under way at once:
// enough for a hundred workers' cores, and a bound on what lies in the store.
const UnderWay = 256

// What a worker says of a job.
const (
	answered = "answered"
	noPhotos = "no photos" // a photo is not in the store, or not as it should be
	gaveUp   = "gave up"   // too many workers ended while they graded it
)

var (
	// ErrNotForFleet is wrapped by errors of jobs that are to be done here.
	ErrNotForFleet = errors.New("not for the fleet")
	// ErrGaveUp says that too many workers ended while they graded a piece.
	ErrGaveUp = errors.New("the fleet gave up")

	errNotThatPhoto = errors.New("it has changed while it was being graded")
)

// rounds is how often a job is put in anew because photos were missing.
const rounds = 5

// lookAfter is how often a job that is not done is looked after: is it still
// in the queue, is there any worker?
var lookAfter = 10 * time.Second

// movingAtOnce keep a line busy; more would only fill memory.
const movingAtOnce = 4

// An Asker puts pieces into the fleet and takes the answers.
type Asker struct {
	*fleet
	me      string // names its jobs and its messages
	program string
	say     func(string)
	stop    context.CancelFunc
	moving  chan struct{} // one in it per photo or answer on its way

	hand    sync.Mutex
	waiting map[string]chan string // by ticket
	uses    map[string]int         // pieces under way by photo
	alone   bool                   // it was said that there is no worker
}

// Ask connects to the fleet. Only workers of the very same program, named by a
// sum of its file, get the jobs: another one could answer otherwise.
func Ask(ctx context.Context, o Options, program string, say func(string)) (*Asker, error) {
	f, err := connect(ctx, o, say)
	if err != nil {
		return nil, err
	}
	a := &Asker{fleet: f, me: nuid.Next(), program: program, say: say, waiting: map[string]chan string{}, uses: map[string]int{},
		moving: make(chan struct{}, movingAtOnce)}
	ctx, a.stop = context.WithCancel(ctx)
	in := inbox{fleet: f, stream: doneStream, config: jetstream.ConsumerConfig{
		Durable: "asker-" + a.me, FilterSubject: "jigloupe.done." + a.me + ".*",
		AckPolicy: jetstream.AckExplicitPolicy, InactiveThreshold: time.Hour,
	}}
	go func() {
		for msg := in.next(ctx); msg != nil; msg = in.next(ctx) {
			ticket := msg.Subject()[strings.LastIndexByte(msg.Subject(), '.')+1:]
			a.hand.Lock()
			if c := a.waiting[ticket]; c != nil {
				select {
				case c <- string(msg.Data()):
				default: // it was said before
				}
			}
			a.hand.Unlock()
			msg.Ack()
		}
	}()
	return a, nil
}

// Close ends the connection and takes back jobs that nobody waits for now.
func (a *Asker) Close() {
	a.stop()
	ctx, stop := context.WithTimeout(context.Background(), 400*time.Millisecond)
	defer stop()
	if s, err := a.js.Stream(ctx, jobsStream); err == nil {
		s.Purge(ctx, jetstream.WithPurgeSubject("jigloupe.job.*."+a.me+".*"))
	}
	if s, err := a.js.Stream(ctx, doneStream); err == nil {
		s.DeleteConsumer(ctx, "asker-"+a.me)
	}
	a.conn.Close()
}

// Grade has a job done whose photos lie in dir and returns the answer.
func (a *Asker) Grade(ctx context.Context, dir string, j *Job) ([]byte, error) {
	text, err := j.encode()
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrNotForFleet, err)
	}
	if answer, err := a.answer(ctx, j.Key); err == nil {
		return answer, nil // of a run that was stopped
	}
	for k := range rounds {
		if err := a.putPhotos(ctx, dir, j, k > 0); err != nil {
			return nil, err
		}
		said, err := a.have(ctx, text)
		switch {
		case err != nil:
			return nil, err
		case said == gaveUp:
			a.forget(ctx, j)
			return nil, ErrGaveUp
		case said == noPhotos:
			continue // others asked for the same photos, and removed them
		}
		answer, err := a.answer(ctx, j.Key)
		if errors.Is(err, jetstream.ErrObjectNotFound) {
			continue // as above
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", a.name, err)
		}
		a.forget(ctx, j)
		return answer, nil
	}
	return nil, fmt.Errorf("%s: photos of piece %s vanished from its store %d times", a.name, j.Batch.Pieces[0].Piece, rounds)
}

// have puts a job into the queue, waits until it is done and returns what the
// worker says. A queue that lost the job, with its disk say, gets it again.
func (a *Asker) have(ctx context.Context, text []byte) (string, error) {
	ticket, done := nuid.Next(), make(chan string, 1)
	a.hand.Lock()
	a.waiting[ticket] = done
	a.hand.Unlock()
	defer func() {
		a.hand.Lock()
		delete(a.waiting, ticket)
		a.hand.Unlock()
	}()
	subject := strings.Join([]string{"jigloupe.job", a.program, a.me, ticket}, ".")
	for {
		id := nuid.Next() // so that a second try, after an answer that was lost, changes nothing
		err := a.again(ctx, func(ctx context.Context) error {
			_, err := a.js.Publish(ctx, subject, text, jetstream.WithMsgID(id))
			return err
		})
		if err != nil {
			return "", fmt.Errorf("%s: %w", a.name, err)
		}
		for queued := true; queued; {
			select {
			case said := <-done:
				return said, nil
			case <-ctx.Done():
				return "", ctx.Err()
			case <-time.After(lookAfter):
				queued = a.queued(ctx, subject)
			}
		}
	}
}

// queued tells whether a job is in the queue or being done, and says once when
// no worker is there to do it.
func (a *Asker) queued(ctx context.Context, subject string) bool {
	s, err := a.js.Stream(ctx, jobsStream)
	if err == nil {
		_, err = s.GetLastMsgForSubject(ctx, subject)
	}
	if err != nil {
		return !errors.Is(err, jetstream.ErrMsgNotFound) && !errors.Is(err, jetstream.ErrStreamNotFound)
	}
	workers, err := s.Consumer(ctx, workersName(a.program))
	none := errors.Is(err, jetstream.ErrConsumerNotFound)
	if err == nil {
		info := workers.CachedInfo()
		none = info.NumWaiting == 0 && info.NumAckPending == 0
	}
	a.hand.Lock()
	defer a.hand.Unlock()
	if none && !a.alone {
		a.say("no worker takes the pieces yet: start one with jigloupe worker, of the very same program file as this one")
	}
	a.alone = none
	return true
}

// putPhotos puts those photos of a job into the store that are not there;
// anew, all of them.
func (a *Asker) putPhotos(ctx context.Context, dir string, j *Job, anew bool) error {
	for k, file := range j.Files {
		if !anew {
			a.hand.Lock()
			a.uses[file.Sum]++
			a.hand.Unlock()
			// What is old may go before a worker comes to it.
			if info, err := a.photos.GetInfo(ctx, file.Sum); err == nil && time.Since(info.ModTime) < keep/2 {
				continue
			}
		}
		name := filepath.Join(dir, j.Batch.Photos[k].File)
		a.moving <- struct{}{}
		err := a.again(ctx, func(ctx context.Context) error { return a.putPhoto(ctx, name, file) })
		<-a.moving
		var unread *fs.PathError
		switch {
		case errors.Is(err, errNotThatPhoto), errors.As(err, &unread):
			return fmt.Errorf("%w: %s: %w", ErrNotForFleet, name, err)
		case err != nil:
			return fmt.Errorf("%s: %w", a.name, err)
		}
	}
	return nil
}

func (a *Asker) putPhoto(ctx context.Context, name string, file File) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := a.photos.Put(ctx, jetstream.ObjectMeta{Name: file.Sum}, io.TeeReader(io.LimitReader(f, file.Size+1), h)); err != nil {
		return err
	}
	if hex.EncodeToString(h.Sum(nil)) != file.Sum {
		a.photos.Delete(ctx, file.Sum)
		return errNotThatPhoto
	}
	return nil
}

// answer reads the answer to a job.
func (a *Asker) answer(ctx context.Context, key string) ([]byte, error) {
	a.moving <- struct{}{}
	defer func() { <-a.moving }()
	var answer []byte
	err := a.again(ctx, func(ctx context.Context) error {
		ctx, stop := context.WithTimeout(ctx, transferTime)
		defer stop()
		object, err := a.answers.Get(ctx, key)
		if err != nil {
			return err
		}
		defer object.Close()
		answer, err = io.ReadAll(io.LimitReader(object, maxAnswer))
		return err
	})
	return answer, err
}

// forget removes a job's answer, and its photos unless another piece under way
// has the same. That it fails matters little: they go after a day.
func (a *Asker) forget(ctx context.Context, j *Job) {
	a.answers.Delete(ctx, j.Key)
	for _, file := range j.Files {
		a.hand.Lock()
		a.uses[file.Sum]--
		last := a.uses[file.Sum] == 0
		a.hand.Unlock()
		if last {
			a.photos.Delete(ctx, file.Sum)
		}
	}
}
