package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"
	"github.com/spf13/cobra"
)

func newWatchCmd() *cobra.Command {
	var g gradeFlags
	cmd := &cobra.Command{
		Use:   "watch BATCH",
		Short: "Grade photos as they arrive in a folder, and keep the page current",
		Long: `Watch waits for photos to arrive in the folder BATCH, say from a phone's sync, and
grades them as grade does as soon as they have stopped growing. It prints what
changed and keeps the page current: reload it in the browser.

It runs until you press Ctrl-C.`,
		Example: `  jigloupe watch rack7`,
		Args:    oneFolder,
		RunE: func(cmd *cobra.Command, args []string) error {
			work, err := g.grading(cmd, args[0])
			if err != nil {
				return err
			}
			w := watcher{work: work, dir: args[0], said: map[string]string{}}
			w.print = func(format string, args ...any) {
				fmt.Fprintln(cmd.OutOrStdout(), oneLine(fmt.Sprintf(format, args...)))
			}
			w.complain = func(err error) {
				sayOn(cmd)(inWords(err))
			}
			return w.run(cmd.Context())
		},
	}
	g.flags(cmd)
	fleetFlags(cmd, &g.fleet, "have the pieces graded by a fleet of machines")
	return cmd
}

// A watcher grades a folder whenever it has changed and come to rest.
type watcher struct {
	work     grading
	dir      string
	said     map[string]string // the last line printed about each piece
	print    func(format string, args ...any)
	complain func(error)
}

const (
	// settled is how long nothing may change before photos count as complete:
	// longer than a sync pauses within a file; by eye.
	settled = 2 * time.Second
	// lookAnyway is how often the folder is read though nothing was reported,
	// because network folders report nothing.
	lookAnyway = 5 * time.Second
)

// run watches until it is told to stop, which is no error.
func (w *watcher) run(ctx context.Context) error {
	notify, err := fsnotify.NewWatcher()
	if err != nil {
		return err
	}
	defer notify.Close()
	if err := notify.Add(w.dir); err != nil {
		return notABatch(w.dir, err)
	}
	var graded folderState // as it was when last graded
	for {
		now, err := w.atRest(ctx, notify.Events)
		if err != nil {
			if ctx.Err() != nil {
				return nil
			}
			return err
		}
		if graded == nil || !maps.Equal(now, graded) {
			switch err := w.grade(ctx, now); {
			case ctx.Err() != nil:
				return nil
			case err != nil:
				w.complain(err)
			}
			graded = now
			continue // something may have arrived meanwhile
		}
		select {
		case <-ctx.Done():
			return nil
		case err := <-notify.Errors:
			w.complain(err)
		case <-notify.Events:
		case <-time.After(lookAnyway):
		}
	}
}

// grade grades the folder and prints what is new.
func (w *watcher) grade(ctx context.Context, now folderState) error {
	if len(now) == 0 {
		w.print("waiting for photos in %s", w.dir)
		return nil
	}
	r, overruled, err := w.work.run(ctx)
	if err != nil {
		return err
	}
	for i := range r.Pieces {
		p := &r.Pieces[i]
		line := fmt.Sprintf("%s  %-7s  %s", p.Piece, p.Verdict, why(p, overruled))
		if w.said[p.Piece] != line {
			w.print("%s", line)
		}
		w.said[p.Piece] = line
	}
	w.print("%s", counts(r, overruled))
	return nil
}

// folderState is what a listing says of the files lying directly in a folder:
// size and time by name.
type folderState map[string]string

// atRest waits until nothing in the folder has changed for a while.
func (w *watcher) atRest(ctx context.Context, events <-chan fsnotify.Event) (folderState, error) {
	last, err := readState(w.dir)
	if err != nil {
		return nil, err
	}
	tick := time.NewTicker(settled / 8)
	defer tick.Stop()
	for since := time.Now(); time.Since(since) < settled; {
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-events: // one file growing reports hundreds; the listing says it all
		case <-tick.C:
			now, err := readState(w.dir)
			if err != nil {
				return nil, err
			}
			if !maps.Equal(now, last) {
				last, since = now, time.Now()
			}
		}
	}
	return last, nil
}

func readState(dir string) (folderState, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, notABatch(dir, err)
	}
	s := folderState{}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") {
			continue
		}
		info, err := os.Stat(filepath.Join(dir, e.Name()))
		switch {
		case errors.Is(err, os.ErrNotExist): // gone between the two steps
		case err != nil:
			return nil, err
		case info.Mode().IsRegular():
			s[e.Name()] = fmt.Sprint(info.Size(), info.ModTime().UnixNano())
		}
	}
	return s, nil
}
