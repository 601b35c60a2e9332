// Package history keeps every graded batch in one SQLite file, so that a piece,
// a powder or an order can be found again and a slow change of the process seen.
//
// Each batch goes in with one transaction: after a kill or a power cut it is
// there whole or not at all. Several programs may use the file at once; each
// waits for its turn to write.
package history

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite" // the driver
	sqlite3 "modernc.org/sqlite/lib"
)

// A Store is an open history. Use Close.
type Store struct{ db *sql.DB }

//go:embed migrations/*.sql
var migrations embed.FS

const (
	waitForTurn = 10 * time.Second // for another program's write; one batch takes milliseconds
	openTries   = 20
)

// DefaultPath is the history in the user's data folder, where no other is named.
func DefaultPath() (string, error) {
	home, err := os.UserHomeDir()
	if err != nil {
		return "", fmt.Errorf("where the history belongs is not known: %w; name a file with --db", err)
	}
	folder := filepath.Join(home, ".local", "share")
	switch {
	case runtime.GOOS == "windows" && os.Getenv("LocalAppData") != "":
		folder = os.Getenv("LocalAppData")
	case runtime.GOOS == "darwin":
		folder = filepath.Join(home, "Library", "Application Support")
	case filepath.IsAbs(os.Getenv("XDG_DATA_HOME")): // XDG Base Directory Specification: others are to be ignored
		folder = os.Getenv("XDG_DATA_HOME")
	}
	return filepath.Join(folder, "jigloupe", "history.db"), nil
}

// Open opens the history at path, making it when there is none and bringing an
// older one up to date.
func Open(path string) (*Store, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, err
	}
	absolute, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	settings := url.Values{"_txlock": {"immediate"}, "_pragma": {
		fmt.Sprintf("busy_timeout(%d)", waitForTurn.Milliseconds()), "journal_mode(WAL)", "foreign_keys(1)"}}
	name := url.URL{Scheme: "file", Path: "/" + strings.TrimPrefix(filepath.ToSlash(absolute), "/"), RawQuery: settings.Encode()}
	db, err := sql.Open("sqlite", name.String())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	// Two programs that make the file at the same moment get in each other's way
	// once: the loser finds the tables there on its next try.
	for try := 1; ; try++ {
		if err = migrate(db); err == nil {
			return &Store{db}, nil
		}
		var said *sqlite.Error
		switch {
		case errors.As(err, &said) && said.Code() == sqlite3.SQLITE_NOTADB:
			db.Close()
			return nil, fmt.Errorf("%s is no history file", path)
		case errors.Is(err, errNewer) || try == openTries:
			db.Close()
			return nil, fmt.Errorf("%s: not opened as a history: %w", path, err)
		}
		time.Sleep(time.Duration(try) * 5 * time.Millisecond)
	}
}

var errNewer = errors.New("it was written by a newer jigloupe; update this one")

func migrate(db *sql.DB) error {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider(goose.DialectSQLite3, db, files)
	if err != nil {
		return err
	}
	current, target, err := provider.GetVersions(context.Background())
	switch {
	case err != nil:
		return err
	case current > target:
		return errNewer
	case current == target:
		return nil
	}
	_, err = provider.Up(context.Background())
	return err
}

// Close closes the history.
func (s *Store) Close() error { return s.db.Close() }
