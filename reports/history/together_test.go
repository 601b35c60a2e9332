package history

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// Run by TestKilled and TestTwoWriters in processes of their own: adds batches
// until it has added its share or is killed, saying each once it is in.
func TestWriterProcess(t *testing.T) {
	path, name := os.Getenv("HISTORY_WRITER"), os.Getenv("HISTORY_NAME")
	if path == "" {
		t.Skip("for other tests to start")
	}
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	var share int
	fmt.Sscan(os.Getenv("HISTORY_SHARE"), &share)
	bare := make([]float64, 40)
	for i := range share {
		b, added, err := s.Add(results(t, fmt.Sprint(name, " ", i), "moss", bare...), day(1))
		if err != nil || added != New {
			t.Fatalf("batch %d: %q, %v", i, added, err)
		}
		fmt.Printf("in %d\n", b.ID)
	}
}

func writer(path, name string, share int) *exec.Cmd {
	c := exec.Command(os.Args[0], "-test.run=^TestWriterProcess$")
	c.Env = append(os.Environ(), "HISTORY_WRITER="+path, "HISTORY_NAME="+name, fmt.Sprint("HISTORY_SHARE=", share))
	return c
}

func TestKilled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "h.db")
	for round := range 12 {
		c := writer(path, fmt.Sprint("round ", round), 10000)
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewReader(out)
		var said []int64
		read := func() error {
			line, err := lines.ReadString('\n')
			var id int64
			if n, _ := fmt.Sscanf(line, "in %d\n", &id); n == 1 && err == nil {
				said = append(said, id)
			}
			return err
		}
		// Kill at another moment each time: while the file is made, then within a later write.
		for len(said) < 3*round {
			if err := read(); err != nil {
				t.Fatalf("round %d: the writer ended by itself: %v", round, err)
			}
		}
		time.Sleep(time.Duration(700*round) * time.Microsecond)
		c.Process.Kill()
		for read() == nil { // what it had said before it died
		}
		c.Wait()
		s, err := Open(path)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		var check string
		if err := s.db.QueryRow(`PRAGMA integrity_check`).Scan(&check); err != nil || check != "ok" {
			t.Fatalf("round %d: integrity %q, %v", round, check, err)
		}
		list, err := s.List()
		if err != nil {
			t.Fatal(err)
		}
		there := map[int64]bool{}
		for _, b := range list {
			there[b.ID] = true
			if b.Pieces != 40 {
				t.Errorf("round %d: batch %d is there with %d of 40 pieces", round, b.ID, b.Pieces)
			}
		}
		for _, id := range said {
			if !there[id] {
				t.Errorf("round %d: batch %d was said to be in and is not", round, id)
			}
		}
		s.Close()
	}
}

func TestTwoWriters(t *testing.T) {
	path := filepath.Join(t.TempDir(), "h.db") // not there yet: both make it
	var writers []*exec.Cmd
	var outs [4]bytes.Buffer
	for i := range outs {
		c := writer(path, fmt.Sprint("writer ", i), 15)
		c.Stdout, c.Stderr = &outs[i], &outs[i]
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		writers = append(writers, c)
	}
	for i, c := range writers {
		if err := c.Wait(); err != nil {
			t.Errorf("writer %d: %v\n%s", i, err, &outs[i])
		}
	}
	list, err := open(t, path).List()
	if err != nil || len(list) != 4*15 {
		t.Errorf("%d batches, %v, want 60", len(list), err)
	}
}

// Someone reading, say a page being made, must not keep a writer out.
func TestWriteWhileReading(t *testing.T) {
	path := filepath.Join(t.TempDir(), "h.db")
	s := open(t, path)
	if _, _, err := s.Add(results(t, "one", "moss", 0.1, 0.2), day(1)); err != nil {
		t.Fatal(err)
	}
	rows, err := s.db.Query(`SELECT piece FROM pieces`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	if !rows.Next() {
		t.Fatal(rows.Err())
	}
	if _, added, err := open(t, path).Add(results(t, "two", "moss", 0.1), day(2)); err != nil || added != New {
		t.Errorf("while someone reads: %q, %v", added, err)
	}
}
