package fleet

import (
	"os"
	"path/filepath"
	"syscall"
)

const scratchPrefix = "jigloupe-worker-"

// scratch is a worker's folder for photos under way, locked as long as the
// worker lives.
type scratch struct {
	dir  string
	lock *os.File
}

// newScratch makes a folder in parent and removes those of workers that were
// killed.
func newScratch(parent string) (*scratch, error) {
	left, err := filepath.Glob(filepath.Join(parent, scratchPrefix+"*"))
	if err != nil {
		return nil, err
	}
	for _, dir := range left {
		if s, err := lockFolder(dir); err == nil {
			s.remove()
		}
	}
	for {
		dir, err := os.MkdirTemp(parent, scratchPrefix)
		if err != nil {
			return nil, err
		}
		s, err := lockFolder(dir)
		if err != nil {
			return nil, err
		}
		if _, err := os.Stat(dir); err == nil { // else another worker, starting too, removed it before the lock
			return s, nil
		}
		s.lock.Close()
	}
}

func lockFolder(dir string) (*scratch, error) {
	f, err := os.Open(dir)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.Close()
		return nil, err
	}
	return &scratch{dir, f}, nil
}

func (s *scratch) remove() {
	os.RemoveAll(s.dir)
	s.lock.Close()
}
