package main

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"unicode"
	"unicode/utf8"

	"jigloupe/reports"
)

// output is the folder a batch is graded into. Everything is first written to
// a hidden folder inside it and takes its place only when all of it is there,
// so that an earlier report stays whole when a later run is stopped, killed or
// out of disk, and what that run had finished is there for the next.
type output struct {
	dir   string
	stage string   // the hidden folder, locked by this run
	lock  *os.File // the stage, held open
	made  bool     // dir was made by this run

	hand sync.Mutex
	keep map[string]bool // files in the stage that belong to finished pieces
}

const stageName = ".unfinished"

// parts are what a graded batch consists of, results.json apart.
var parts = []string{"masks", "pictures", "annotated", "index.html", "report.pdf", "pieces.csv", "faults.csv", "travel.txt", ".pieces"}

// openOutput prepares dir to take the results of the photos in batch. It
// refuses a folder that holds anything else, because the parts above replace
// what has their names.
func openOutput(dir, batch string) (*output, error) {
	o := &output{dir: dir, stage: filepath.Join(dir, stageName), keep: map[string]bool{}}
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, os.ErrNotExist):
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return nil, err
		}
		o.made = true
	case err != nil:
		return nil, err
	case len(entries) > 0 && !gradedBefore(dir, entries):
		return nil, hinted{fmt.Errorf("%s already holds other files, such as %s", dir, entries[0].Name()), "choose a new or empty folder with --out"}
	}
	if inside, err := contains(dir, batch); err != nil || inside {
		o.forget()
		if err == nil {
			err = hinted{fmt.Errorf("%s holds the photos: results are never written over them", dir), "choose another folder with --out"}
		}
		return nil, err
	}
	if err := o.lockStage(); err != nil {
		o.forget()
		return nil, err
	}
	for _, p := range []string{".pieces", "masks", "pictures", "annotated"} {
		if err := os.MkdirAll(filepath.Join(o.stage, p), 0o755); err != nil {
			o.close()
			return nil, err
		}
	}
	return o, nil
}

// gradedBefore tells whether the files of a folder are those of this program.
func gradedBefore(dir string, entries []os.DirEntry) bool {
	for _, e := range entries {
		if n := e.Name(); n == ".pieces" || n == stageName {
			return true
		}
	}
	_, err := reports.ReadResults(filepath.Join(dir, "results.json"))
	return err == nil
}

// contains tells whether outer is inner or lies around it, links followed.
func contains(outer, inner string) (bool, error) {
	var real [2]string
	for i, p := range []string{outer, inner} {
		p, err := filepath.EvalSymlinks(p)
		if err != nil {
			return false, err
		}
		if real[i], err = filepath.Abs(p); err != nil {
			return false, err
		}
	}
	rel, err := filepath.Rel(real[0], real[1])
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)), err
}

// lockStage makes the hidden folder, if a stopped run has not left it, for this
// run alone. The lock goes with the process, however it ends.
func (o *output) lockStage() error {
	for {
		if err := os.Mkdir(o.stage, 0o755); err != nil && !errors.Is(err, os.ErrExist) {
			return err
		}
		f, err := os.Open(o.stage)
		if err != nil {
			return err
		}
		if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
			f.Close()
			return hinted{fmt.Errorf("another jigloupe is grading into %s", o.dir), "wait for it, or choose another folder with --out"}
		}
		// The run before may have taken the folder away between the two steps.
		held, err := f.Stat()
		now, errNow := os.Stat(o.stage)
		if err != nil || errNow != nil || !os.SameFile(held, now) {
			f.Close()
			continue
		}
		o.lock = f
		return nil
	}
}

// publish puts what was written in place, results.json last. Until then there
// is neither results.json nor records: old ones must not vouch for new masks.
func (o *output) publish() error {
	for _, p := range []string{"results.json", ".pieces"} {
		if err := os.RemoveAll(filepath.Join(o.dir, p)); err != nil {
			return err
		}
	}
	old := filepath.Join(o.stage, "old")
	if err := os.RemoveAll(old); err != nil { // of a run that was killed right here
		return err
	}
	if err := os.Mkdir(old, 0o755); err != nil {
		return err
	}
	for _, p := range parts {
		if err := os.Rename(filepath.Join(o.dir, p), filepath.Join(old, p)); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
		if err := os.Rename(filepath.Join(o.stage, p), filepath.Join(o.dir, p)); err != nil {
			return err
		}
	}
	if err := os.Rename(filepath.Join(o.stage, "results.json"), filepath.Join(o.dir, "results.json")); err != nil {
		return err
	}
	o.made, o.keep = false, nil
	return os.RemoveAll(o.stage)
}

// close ends the run. What it has not published goes, except pieces that are
// finished.
func (o *output) close() {
	if len(o.keep) == 0 || o.clear() != nil {
		os.RemoveAll(o.stage)
	}
	o.lock.Close()
	o.forget()
}

// forget removes the folder if this run made it and nothing is in it.
func (o *output) forget() {
	if o.made {
		os.Remove(o.dir)
	}
}

// evidenceNames gives each photo a name for its mask and pictures, without
// ending: its own, unless another photo would get the same (A03_1.jpg and
// A03_1.png), a file can't be called so, or results.json couldn't say it.
func evidenceNames(files []string) map[string]string {
	stem := func(file string) string { return strings.TrimSuffix(file, filepath.Ext(file)) }
	uses := map[string]int{}
	for _, f := range files {
		uses[strings.ToLower(stem(f))]++
	}
	names := map[string]string{}
	for _, f := range files {
		name := stem(f)
		if uses[strings.ToLower(name)] > 1 {
			name = f
		}
		const longest = 255 - len(".png") // bytes, on the file systems in use
		if !sayable(name) || len(name) > longest {
			name = strings.Map(func(r rune) rune {
				if r == utf8.RuneError || r == filepath.Separator || !unicode.IsPrint(r) {
					return '_'
				}
				return r
			}, name)
			tail := fmt.Sprintf("-%x", sha256.Sum256([]byte(f)))[:9]
			name = strings.ToValidUTF8(name[:min(len(name), longest-len(tail))], "") + tail
		}
		names[f] = name
	}
	return names
}

func sayable(name string) bool {
	return utf8.ValidString(name) && !strings.ContainsFunc(name, func(r rune) bool { return r == filepath.Separator || !unicode.IsPrint(r) })
}
