package fleet

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nkeys"
)

// A Server is a NATS JetStream server inside this process.
type Server struct {
	Dir     string // its files, and the key that lets others in
	Listen  string // HOST:PORT
	TLSCert string // file with its certificate, "" for no TLS
	TLSKey  string
	Config  string // NATS server configuration file to go by instead of all the above
	Say     func(string)
}

// KeyFile is where the seed of the NKey lies that lets others in.
func (s *Server) KeyFile() string { return filepath.Join(s.Dir, "fleet.nk") }

// Run serves until ctx is over; ready is called with the address.
func (s *Server) Run(ctx context.Context, ready func(address string)) error {
	options, err := s.options()
	if err != nil {
		return err
	}
	options.NoSigs = true              // the signals are the command's
	options.ReconnectErrorReports = 60 // tries, a second apart: a node that is gone is worth a line a minute
	n, err := server.NewServer(options)
	if err != nil {
		return err
	}
	fatal := make(chan error, 1)
	n.SetLoggerV2(logger{s.Say, fatal}, false, false, false)
	go n.Start()
	defer n.WaitForShutdown()
	defer n.Shutdown()
	for !n.ReadyForConnections(100 * time.Millisecond) {
		select {
		case err := <-fatal:
			return err
		case <-ctx.Done():
			return nil
		default:
		}
	}
	ready(n.ClientURL())
	select {
	case err := <-fatal:
		return err
	case <-ctx.Done():
		return nil
	}
}

func (s *Server) options() (*server.Options, error) {
	if s.Config != "" {
		o, err := server.ProcessConfigFile(s.Config)
		if err != nil {
			return nil, err
		}
		if !o.JetStream {
			return nil, fmt.Errorf("%s does not switch JetStream on: it needs a block jetstream { store_dir: ... }", s.Config)
		}
		return o, nil
	}
	host, port, err := net.SplitHostPort(s.Listen)
	if err != nil {
		return nil, err
	}
	number, err := strconv.ParseUint(port, 10, 16)
	if err != nil {
		return nil, fmt.Errorf("%s: the port is a number up to 65535", s.Listen)
	}
	user, err := s.key()
	if err != nil {
		return nil, err
	}
	o := &server.Options{
		ServerName: "jigloupe", Host: host, Port: int(number), JetStream: true, StoreDir: s.Dir,
		Nkeys: []*server.NkeyUser{{Nkey: user}},
	}
	if number == 0 {
		o.Port = server.RANDOM_PORT
	}
	if s.TLSCert != "" {
		if o.TLSConfig, err = server.GenTLSConfig(&server.TLSConfigOpts{CertFile: s.TLSCert, KeyFile: s.TLSKey}); err != nil {
			return nil, err
		}
	}
	return o, nil
}

// key is the public part of the NKey, made when there is none yet.
func (s *Server) key() (string, error) {
	if err := os.MkdirAll(s.Dir, 0o700); err != nil {
		return "", err
	}
	seed, err := os.ReadFile(s.KeyFile())
	if errors.Is(err, os.ErrNotExist) {
		pair, err := nkeys.CreateUser()
		if err != nil {
			return "", err
		}
		if seed, err = pair.Seed(); err != nil {
			return "", err
		}
		if err := os.WriteFile(s.KeyFile(), append(seed, '\n'), 0o600); err != nil {
			return "", err
		}
		return pair.PublicKey()
	}
	if err != nil {
		return "", err
	}
	pair, err := nkeys.ParseDecoratedUserNKey(seed)
	if err != nil {
		return "", fmt.Errorf("%s holds no NKey seed: %w; remove it and a new one is made", s.KeyFile(), err)
	}
	return pair.PublicKey()
}

// logger passes on what somebody should act upon.
type logger struct {
	say   func(string)
	fatal chan error
}

func (l logger) Warnf(format string, v ...any)  { l.say(fmt.Sprintf(format, v...)) }
func (l logger) Errorf(format string, v ...any) { l.say(fmt.Sprintf(format, v...)) }
func (l logger) Fatalf(format string, v ...any) {
	select {
	case l.fatal <- fmt.Errorf(format, v...):
	default: // the first one says it
	}
}
func (l logger) Noticef(string, ...any) {}
func (l logger) Debugf(string, ...any)  {}
func (l logger) Tracef(string, ...any)  {}
