package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io/fs"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"jigloupe/inspect"
)

// Three nodes, two workers, all of them processes; the node that hands out the
// jobs and one worker are killed in the middle. Every byte of the report is that
// of a run without a fleet.
func TestFleetLosesNodeAndWorker(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a cluster, which takes a while")
	}
	dir := t.TempDir()
	batch := filepath.Join(dir, "rack")
	pieces := writeRack(t, batch, 8)
	nodes, addresses := startCluster(t, dir)
	workers := []*exec.Cmd{
		start(t, dir, "jigloupe", "worker", "--jobs", "1", "--fleet", addresses),
		start(t, dir, "jigloupe", "worker", "--jobs", "1", "--fleet", addresses),
	}
	grade := start(t, dir, "jigloupe", "grade", "rack", "--out", "by-fleet", "--fleet", addresses)

	graded := func() int {
		records, err := filepath.Glob(filepath.Join(dir, "by-fleet", ".unfinished", ".pieces", "*.json"))
		if err != nil {
			t.Fatal(err)
		}
		return len(records)
	}
	waitUntil(t, 2*time.Minute, "a third is graded", func() bool { return graded() >= pieces/3 })
	kill(t, nodes[queueLeader(t, addresses)])
	kill(t, workers[0])
	if n := graded(); n == pieces {
		t.Error("all was graded before anything was killed")
	}
	if err := grade.Wait(); err != nil && grade.ProcessState.ExitCode() != exitFaults {
		t.Fatalf("grade: %v\n%s", err, grade.Stderr)
	}

	here := exec.Command("jigloupe", "grade", "rack", "--out", "here")
	here.Dir = dir
	if out, err := here.CombinedOutput(); err != nil && here.ProcessState.ExitCode() != exitFaults {
		t.Fatalf("%v\n%s", err, out)
	}
	sameFolders(t, filepath.Join(dir, "here"), filepath.Join(dir, "by-fleet"))

	workers[1].Process.Signal(os.Interrupt)
	if err := workers[1].Wait(); err != nil {
		t.Errorf("a worker told to stop: %v\n%s", err, workers[1].Stderr)
	}
	if !strings.Contains(fmt.Sprint(workers[1].Stderr), "ended; graded ") {
		t.Errorf("worker said\n%s", workers[1].Stderr)
	}
}

// The fleet as a shop starts it: one server with its key, one worker. A photo
// that can't be read is graded where it lies.
func TestFleetOfOneWorker(t *testing.T) {
	dir := t.TempDir()
	writeRack(t, filepath.Join(dir, "rack"), 3)
	if err := os.Mkdir(filepath.Join(dir, "elsewhere"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../elsewhere", filepath.Join(dir, "rack", "P09_1.jpg")); err != nil {
		t.Fatal(err)
	}
	server := start(t, dir, "jigloupe", "fleet", "--store", "store", "--listen", "127.0.0.1:0")
	waitUntil(t, time.Minute, "the server is ready", func() bool { return strings.Contains(fmt.Sprint(server.Stderr), "on each machine") })
	said := strings.Fields(fmt.Sprint(server.Stderr))
	address := said[slices.Index(said, "at")+1]
	open := []string{"--fleet", address, "--fleet-nkey", "store/fleet.nk"}
	start(t, dir, "jigloupe", append([]string{"worker"}, open...)...)
	for _, args := range [][]string{append([]string{"--out", "by-fleet"}, open...), {"--out", "here"}} {
		c := exec.Command("jigloupe", append([]string{"grade", "rack"}, args...)...)
		c.Dir = dir
		if out, err := c.CombinedOutput(); err != nil && c.ProcessState.ExitCode() != exitFaults {
			t.Fatalf("%v\n%s", err, out)
		}
	}
	sameFolders(t, filepath.Join(dir, "here"), filepath.Join(dir, "by-fleet"))
}

func TestGivenUpPieceIsToBePhotographedAgain(t *testing.T) {
	b := &inspect.BatchFolder{
		Pieces: []inspect.BatchRow{{Piece: "A01"}},
		Photos: []inspect.BatchFile{{File: "A01_1.jpg", Piece: "A01"}, {File: "A01_2.jpg", Piece: "A01"}},
	}
	p, err := givenUp(context.Background(), pieceWork{batch: b}, inspect.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if p.Verdict != inspect.Retake || len(p.Reasons) != 2 || !strings.Contains(p.Reasons[1].Says, "A01_2.jpg can't be judged. Workers of the fleet ended again and again") {
		t.Errorf("%s, %v", p.Verdict, p.Reasons)
	}
	if b.Photos[0].Refused != "" {
		t.Error("the batch was changed")
	}
}

// writeRack writes a batch of so many pieces, of two photos each. No two files
// are the same: each has a comment of its own.
func writeRack(t *testing.T, dir string, pieces int) int {
	t.Helper()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	kinds := []string{"good", "bare", "empty", "good", "tiny", "good"}
	sheet := "piece,dips,mm_per_px\n"
	for k := range pieces {
		sheet += fmt.Sprintf("P%02d,%d,0.04\n", k, 1+k%2)
		for view := 1; view <= 2; view++ {
			photo := commented(photos[kinds[(k+view)%len(kinds)]](), fmt.Sprintf("piece %d, view %d", k, view))
			if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("P%02d_%d.jpg", k, view)), photo, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "batch.csv"), []byte(sheet), 0o644); err != nil {
		t.Fatal(err)
	}
	return pieces
}

// commented puts a comment segment behind a JPEG's first marker.
func commented(photo []byte, comment string) []byte {
	segment := binary.BigEndian.AppendUint16([]byte{0xff, 0xfe}, uint16(2+len(comment)))
	return bytes.Join([][]byte{photo[:2], segment, []byte(comment), photo[2:]}, nil)
}

// startCluster starts a server of three nodes and returns them and their
// addresses.
func startCluster(t *testing.T, dir string) (nodes []*exec.Cmd, addresses string) {
	t.Helper()
	clients, routes := freePorts(t, 3), freePorts(t, 3)
	for k := range 3 {
		config := fmt.Sprintf(`
server_name: node%d
listen: %s
jetstream { store_dir: %q }
cluster { name: shop, listen: %s, routes: [nats://%s] }
`, k, clients[k], filepath.Join(dir, fmt.Sprint("node", k)), routes[k], strings.Join(routes, ", nats://"))
		file := filepath.Join(dir, fmt.Sprintf("node%d.conf", k))
		if err := os.WriteFile(file, []byte(config), 0o644); err != nil {
			t.Fatal(err)
		}
		nodes = append(nodes, start(t, dir, "jigloupe", "fleet", "--config", file))
	}
	for _, n := range nodes {
		waitUntil(t, time.Minute, "a node is ready", func() bool { return strings.Contains(fmt.Sprint(n.Stderr), "the fleet is at") })
	}
	return nodes, "nats://" + strings.Join(clients, ",nats://")
}

// queueLeader is the number of the node that hands out the jobs.
func queueLeader(t *testing.T, addresses string) int {
	t.Helper()
	conn, err := nats.Connect(addresses)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	js, err := jetstream.New(conn)
	if err != nil {
		t.Fatal(err)
	}
	queue, err := js.Stream(context.Background(), "jigloupe-jobs")
	if err != nil {
		t.Fatal(err)
	}
	var k int
	if _, err := fmt.Sscanf(queue.CachedInfo().Cluster.Leader, "node%d", &k); err != nil {
		t.Fatal(err)
	}
	return k
}

// freePorts are addresses on this machine that nothing listens on.
func freePorts(t *testing.T, n int) []string {
	t.Helper()
	var free []string
	for range n {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		defer l.Close()
		free = append(free, l.Addr().String())
	}
	return free
}

// start runs a program for the test's time, and no longer than a test should take.
func start(t *testing.T, dir, name string, args ...string) *exec.Cmd {
	t.Helper()
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Minute)
	t.Cleanup(stop)
	c := exec.CommandContext(ctx, name, args...)
	c.Dir, c.Stderr = dir, &safeBuffer{}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { kill(t, c) })
	return c
}

// kill ends a process as a power cut does.
func kill(t *testing.T, c *exec.Cmd) {
	t.Helper()
	if c.ProcessState == nil {
		c.Process.Kill()
		c.Wait()
	}
}

func waitUntil(t *testing.T, most time.Duration, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(most); !is(); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("after %v it is not so that %s", most, what)
		}
	}
}

// sameFolders compares every file of two graded batches, the records included.
func sameFolders(t *testing.T, a, b string) {
	t.Helper()
	files := func(dir string) map[string][]byte {
		all := map[string][]byte{}
		err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				return err
			}
			name, err := filepath.Rel(dir, path)
			if err != nil {
				return err
			}
			all[name], err = os.ReadFile(path)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	inA, inB := files(a), files(b)
	if len(inA) != len(inB) || len(inA["results.json"]) == 0 {
		t.Errorf("%d files in %s, %d in %s", len(inA), a, len(inB), b)
	}
	for name := range inA {
		if !bytes.Equal(inA[name], inB[name]) {
			t.Errorf("%s differs", name)
		}
	}
}

// safeBuffer can be read while a process writes to it.
type safeBuffer struct {
	hand sync.Mutex
	text bytes.Buffer
}

func (b *safeBuffer) Write(p []byte) (int, error) {
	b.hand.Lock()
	defer b.hand.Unlock()
	return b.text.Write(p)
}

func (b *safeBuffer) String() string {
	b.hand.Lock()
	defer b.hand.Unlock()
	return b.text.String()
}
