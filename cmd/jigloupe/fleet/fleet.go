// Package fleet lets several machines grade one batch. NATS JetStream does all
// the work of a queue and a store:
//
//	stream jigloupe-jobs            a message per piece to grade, taken off when it is done
//	object store jigloupe-photos    the photos of those pieces, by the SHA-256 of their bytes
//	object store jigloupe-answers   what grading them gave, by the key of the job
//	stream jigloupe-done            a message to whoever asked, per piece that is done
//
// Whoever asks puts photos and a job, waits for the message, takes the answer,
// and then removes the photos and the answer. What stays behind because
// somebody was stopped goes after a day.
//
// A job may be delivered more than once; its answer depends on nothing but
// what its key covers, so that a second answer is the first one again.
package fleet

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"strings"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/sethvargo/go-retry"
	"github.com/synadia-io/orbit.go/natscontext"
)

const (
	// keep is how long anything stays that nobody fetches.
	keep = 24 * time.Hour
	// patience is how long a call is tried again: a cluster that lost a node
	// chooses its new leaders in seconds, a server restarts within a minute.
	patience = 2 * time.Minute
	// transferTime bounds one reading of an object: one that hangs on a lost node
	// leaves patience for two more. In it 10 MB come at 2 Mbit/s.
	transferTime = 40 * time.Second
)

// Options say where the fleet is and how to be let in.
type Options struct {
	Server string // addresses such as nats://HOST or tls://HOST:PORT, with commas between; or the name or file of a NATS context
	Creds  string // file with user credentials, "" for none
	NKey   string // file with an NKey seed, "" for none
	CA     string // file with the certificate that the server's is signed by, "" for those of the system
}

// Name is the server as it may be shown: an address can hold a password.
func (o Options) Name() string {
	var shown []string
	for _, a := range strings.Split(o.Server, ",") {
		u, err := url.Parse(strings.TrimSpace(a))
		switch {
		case !strings.Contains(a, "://"):
			shown = append(shown, a)
		case err != nil || u.Host == "":
			shown = append(shown, "the fleet")
		default:
			shown = append(shown, u.Scheme+"://"+u.Host)
		}
	}
	return strings.Join(shown, ",")
}

// ErrNoConnection is wrapped by the error when the server can't be reached or
// lets nobody in.
var ErrNoConnection = errors.New("no connection")

// fleet is a connection to the server.
type fleet struct {
	name    string
	conn    *nats.Conn
	js      jetstream.JetStream
	photos  jetstream.ObjectStore
	answers jetstream.ObjectStore
}

const (
	jobsStream   = "jigloupe-jobs"
	doneStream   = "jigloupe-done"
	photosBucket = "jigloupe-photos"
	answerBucket = "jigloupe-answers"
)

// connect reaches the server and makes streams and stores that are not there
// yet. What the connection goes through later is told to say.
func connect(ctx context.Context, o Options, say func(string)) (*fleet, error) {
	f := &fleet{name: o.Name()}
	options := []nats.Option{
		nats.Name("jigloupe"), nats.MaxReconnects(-1), nats.ReconnectWait(500 * time.Millisecond),
		nats.DisconnectErrHandler(func(_ *nats.Conn, err error) {
			if err != nil {
				say("lost the connection to " + f.name + "; trying on")
			}
		}),
		nats.ReconnectHandler(func(*nats.Conn) { say("connected to " + f.name + " again") }),
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) {
			if errors.Is(err, nats.ErrPermissionViolation) {
				say(f.name + ": " + err.Error())
			}
		}),
	}
	if o.Creds != "" {
		options = append(options, nats.UserCredentials(o.Creds))
	}
	if o.NKey != "" {
		key, err := nats.NkeyOptionFromSeed(o.NKey)
		if err != nil {
			return nil, fmt.Errorf("%s holds no NKey seed: %w", o.NKey, err)
		}
		options = append(options, key)
	}
	if o.CA != "" {
		options = append(options, nats.RootCAs(o.CA))
	}
	var err error
	domain := ""
	if strings.Contains(o.Server, "://") {
		f.conn, err = nats.Connect(o.Server, options...)
	} else {
		var settings natscontext.Settings
		f.conn, settings, err = natscontext.Connect(o.Server, options...)
		domain = settings.JSDomain
	}
	if err != nil {
		var u *url.Error
		if errors.As(err, &u) {
			err = u.Err // the address itself may hold a password
		}
		return nil, fmt.Errorf("%w to %s: %w", ErrNoConnection, f.name, err)
	}
	if domain == "" {
		f.js, err = jetstream.New(f.conn)
	} else {
		f.js, err = jetstream.NewWithDomain(f.conn, domain)
	}
	if err == nil {
		err = f.prepare(ctx)
	}
	if err != nil {
		f.conn.Close()
		return nil, fmt.Errorf("%s: %w", f.name, err)
	}
	return f, nil
}

// prepare makes what is missing; what is there is taken as it is, so that
// somebody can make it beforehand with other bounds.
func (f *fleet) prepare(ctx context.Context) error {
	copies := 1
	if f.conn.ConnectedClusterName() != "" {
		copies = 3 // a cluster goes on when one node fails
	}
	for _, c := range []jetstream.StreamConfig{
		{Name: jobsStream, Subjects: []string{"jigloupe.job.>"}, MaxMsgSize: maxJob},
		{Name: doneStream, Subjects: []string{"jigloupe.done.>"}, MaxMsgSize: maxJob},
	} {
		c.Retention, c.MaxAge, c.Replicas = jetstream.WorkQueuePolicy, keep, copies
		err := f.again(ctx, func(ctx context.Context) error {
			_, err := f.js.Stream(ctx, c.Name)
			if errors.Is(err, jetstream.ErrStreamNotFound) {
				_, err = f.js.CreateStream(ctx, c)
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	for bucket, store := range map[string]*jetstream.ObjectStore{photosBucket: &f.photos, answerBucket: &f.answers} {
		err := f.again(ctx, func(ctx context.Context) (err error) {
			*store, err = f.js.ObjectStore(ctx, bucket)
			if errors.Is(err, jetstream.ErrBucketNotFound) {
				*store, err = f.js.CreateObjectStore(ctx, jetstream.ObjectStoreConfig{Bucket: bucket, TTL: keep, Replicas: copies})
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// again does something with the server until it works, up to a limit: a node
// may be gone, a leader not chosen yet, the store full for the moment.
func (f *fleet) again(ctx context.Context, do func(context.Context) error) error {
	wait := retry.WithMaxDuration(patience, retry.WithCappedDuration(2*time.Second, retry.NewExponential(50*time.Millisecond)))
	return retry.Do(ctx, wait, func(ctx context.Context) error {
		err := do(ctx)
		var file *fs.PathError
		for _, final := range []error{jetstream.ErrObjectNotFound, jetstream.ErrMsgNotFound, jetstream.ErrJetStreamNotEnabled,
			jetstream.ErrJetStreamNotEnabledForAccount, nats.ErrConnectionClosed, errNotThatPhoto} {
			if errors.Is(err, final) || errors.As(err, &file) {
				return err
			}
		}
		return retry.RetryableError(err)
	})
}

// inbox is a consumer of a stream that outlives lost connections and leaders.
type inbox struct {
	*fleet
	stream   string
	config   jetstream.ConsumerConfig
	consumer jetstream.Consumer
}

// next waits for a message; nil when ctx is over.
func (in *inbox) next(ctx context.Context) jetstream.Msg {
	for ctx.Err() == nil {
		msg, err := in.pull(ctx)
		switch {
		case err == nil:
			return msg
		case errors.Is(err, nats.ErrTimeout), errors.Is(err, context.DeadlineExceeded):
			continue
		}
		in.consumer = nil
		select {
		case <-ctx.Done():
		case <-time.After(300 * time.Millisecond):
		}
	}
	return nil
}

func (in *inbox) pull(ctx context.Context) (jetstream.Msg, error) {
	ctx, stop := context.WithTimeout(ctx, 20*time.Second)
	defer stop()
	if in.consumer == nil {
		c, err := in.js.CreateOrUpdateConsumer(ctx, in.stream, in.config)
		if err != nil {
			return nil, fmt.Errorf("consumer: %v", err) // a timeout here is no timeout of a message
		}
		in.consumer = c
	}
	return in.consumer.Next(jetstream.FetchContext(ctx), jetstream.FetchHeartbeat(2*time.Second))
}
