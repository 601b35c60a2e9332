package codec

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"sync"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// childVariable is in the environment of a process that is to be a child.
const childVariable = "JIGLOUPE_DECODES_ONLY"

// errNoChild means that the system has no process or no memory to share.
var errNoChild = errors.New("no child to decode in")

var (
	isolated bool
	hand     sync.Mutex
	idle     []*child
)

// Isolate makes this program decode in children from now on, which are the
// program itself. It belongs at the very start of main: in a child it does that
// child's work, and ends the process.
func Isolate() {
	if os.Getenv(childVariable) != "" {
		os.Exit(serve(job.do))
	}
	isolated = true
}

// A child decodes one file after the other. It shares a piece of memory with its
// parent that holds the file, and from the next page on the samples, which are used
// where they are.
type child struct {
	cmd    *exec.Cmd
	ask    io.WriteCloser
	answer *json.Decoder
	shared *os.File
	memory []byte // all of it, as the parent sees it
}

// A request is a job on a file of so many bytes.
type request struct {
	Job  job
	File int
}

// samplesAt is where the samples of a request begin.
func (r request) samplesAt() int {
	page := os.Getpagesize()
	return (r.File + page - 1) / page * page
}

func (r request) size() int { return r.samplesAt() + r.Job.bytes() }

// childTime is how long a child may take over a file: a hundred times as long as
// over a photo of 108 megapixels, which is time enough on a busy old laptop.
var childTime = time.Minute

const (
	// childMemory is the address space that a child may take, B: a progressive
	// JPEG or a HEIC of 200 megapixels fits in.
	childMemory = 6 << 30

	// keptMemory is how much shared memory a child keeps for the next photo, B: more
	// takes less time to get again than it is worth keeping while a photo is measured.
	keptMemory = 8 << 20
)

// runInChild lets a child do the job, which is not free again before its samples
// are. A child that ends on it is followed by a new one, once: the first may have
// been ended from outside.
func (j job) runInChild(file []byte) (a answer, in *child, pix []byte, err error) {
	j.Header.ICC = nil
	r := request{j, len(file)}
	for try := range 2 {
		c, err := takeChild(try > 0)
		if err == nil {
			err = c.load(r, file)
		}
		if err != nil {
			return a, nil, nil, fmt.Errorf("%w: %w", errNoChild, err)
		}
		late := time.AfterFunc(childTime, func() { c.cmd.Process.Kill() })
		a, pix, err = c.run(r)
		inTime := late.Stop()
		if err == nil {
			return a, c, pix, nil
		}
		c.end()
		if !inTime {
			return a, nil, nil, fmt.Errorf("%w: decoding it takes longer than %v", ErrDamaged, childTime)
		}
	}
	return a, nil, nil, fmt.Errorf("%w: the decoder breaks down on it", ErrDamaged)
}

// free has a child wait for the next photo.
func (c *child) free() {
	if len(c.memory) > keptMemory { // of which the system gets back the pages; where it can't, they stay
		unix.Fallocate(int(c.shared.Fd()), unix.FALLOC_FL_PUNCH_HOLE|unix.FALLOC_FL_KEEP_SIZE, 0, int64(len(c.memory)))
	}
	hand.Lock()
	idle = append(idle, c)
	hand.Unlock()
}

// takeChild returns an idle child, unless it must be a new one or there is none.
func takeChild(anew bool) (*child, error) {
	hand.Lock()
	defer hand.Unlock()
	if n := len(idle); n > 0 && !anew {
		c := idle[n-1]
		idle = idle[:n-1]
		return c, nil
	}
	fd, err := unix.MemfdCreate("photo", unix.MFD_CLOEXEC|unix.MFD_ALLOW_SEALING)
	if err != nil {
		return nil, err
	}
	c := &child{shared: os.NewFile(uintptr(fd), "photo")}
	// a child that made it smaller would end its parent, too
	if _, err = unix.FcntlInt(uintptr(fd), unix.F_ADD_SEALS, unix.F_SEAL_SHRINK); err == nil {
		err = c.start()
	}
	if err != nil {
		c.shared.Close()
		return nil, err
	}
	return c, nil
}

func (c *child) start() error {
	c.cmd = exec.Command("/proc/self/exe")
	c.cmd.Args[0] = os.Args[0]
	c.cmd.Env = append(os.Environ(), childVariable+"=1", "OPENBLAS_NUM_THREADS=1")
	c.cmd.ExtraFiles = []*os.File{c.shared}
	var err error
	if c.ask, err = c.cmd.StdinPipe(); err != nil {
		return err
	}
	out, err := c.cmd.StdoutPipe()
	if err != nil {
		return err
	}
	c.answer = json.NewDecoder(out)
	return c.cmd.Start()
}

// end ends a child that is of no more use.
func (c *child) end() {
	c.cmd.Process.Kill()
	c.cmd.Wait() // that it was killed is no news
	c.shared.Close()
	if c.memory != nil {
		syscall.Munmap(c.memory)
		c.memory = nil
	}
}

// load shares a request's file with the child.
func (c *child) load(r request, file []byte) (err error) {
	defer func() {
		if err != nil {
			c.end()
		}
	}()
	if len(c.memory) < r.size() {
		if err := c.shared.Truncate(int64(r.size())); err != nil {
			return err
		}
		if c.memory != nil {
			syscall.Munmap(c.memory)
			c.memory = nil
		}
		if c.memory, err = syscall.Mmap(int(c.shared.Fd()), 0, r.size(), syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_SHARED); err != nil {
			return err
		}
	}
	copy(c.memory, file)
	return nil
}

// run has a child answer a request. An error means that the child is broken.
func (c *child) run(r request) (a answer, pix []byte, err error) {
	if err := json.NewEncoder(c.ask).Encode(r); err != nil {
		return a, nil, err
	}
	if err := c.answer.Decode(&a); err != nil {
		return a, nil, err
	}
	return a, c.memory[r.samplesAt():r.size():r.size()], nil
}

// serve answers requests until there are no more, which is when the parent ends,
// however it does. It returns the exit status.
func serve(do func(j job, file, pix []byte) answer) int {
	signal.Ignore(syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP) // meant for the parent, too
	syscall.Setrlimit(syscall.RLIMIT_AS, &syscall.Rlimit{Cur: childMemory, Max: childMemory})
	syscall.Setrlimit(syscall.RLIMIT_CORE, &syscall.Rlimit{})
	requests, answers := json.NewDecoder(os.Stdin), json.NewEncoder(os.Stdout)
	var shared []byte // mapped, and left so: its pages cost time each time they are
	for {
		var r request
		if err := requests.Decode(&r); err == io.EOF {
			return 0
		} else if err != nil {
			return 1
		}
		if len(shared) < r.size() {
			if shared != nil {
				syscall.Munmap(shared)
			}
			var err error
			// all pages at once: one by one, as they are written, they take as long as the decoding's tenth
			if shared, err = syscall.Mmap(3, 0, r.size(), syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_SHARED|syscall.MAP_POPULATE); err != nil {
				return 1
			}
		}
		unix.Madvise(shared[r.samplesAt():r.size()], unix.MADV_POPULATE_WRITE) // what free gave back; where the system can't, pages come one by one
		a := do(r.Job, shared[:r.File:r.File], shared[r.samplesAt():r.size()])
		if err := answers.Encode(a); err != nil {
			return 1
		}
	}
}
