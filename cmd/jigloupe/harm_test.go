package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"jigloupe/inspect"
)

// rack makes a folder of photos, each of another kind, one piece each.
func rack(t *testing.T, kinds ...string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "rack")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for k, kind := range kinds {
		put(t, filepath.Join(dir, fmt.Sprintf("A%02d_1.jpg", k+1)), photos[kind]())
	}
	return dir
}

func put(t *testing.T, path string, content []byte) {
	t.Helper()
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
}

// jigloupe is the program with the given arguments, not yet started.
func jigloupe(args ...string) *exec.Cmd {
	cmd := exec.Command("jigloupe", args...)
	cmd.Env = append(os.Environ(), "OPENBLAS_NUM_THREADS=1")
	return cmd
}

// ends runs the program and wants it to end with the status.
func ends(t *testing.T, status int, args ...string) (says string) {
	t.Helper()
	out, err := jigloupe(args...).CombinedOutput()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	got := 0
	if exit != nil {
		got = exit.ExitCode()
	}
	if got != status {
		t.Fatalf("%v ended with %d, want %d: %s", args, got, status, out)
	}
	return string(out)
}

// content is everything a report consists of, by name, the records apart: they
// hold the times at which files were written.
func content(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		all[rel] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func same(t *testing.T, what string, got, want map[string]string) {
	t.Helper()
	for name := range want {
		if got[name] != want[name] {
			t.Errorf("%s: %s differs", what, name)
		}
	}
	for name := range got {
		if _, ok := want[name]; !ok {
			t.Errorf("%s: %s should not be there", what, name)
		}
	}
}

// wholeOrAbsent wants results.json to be one or the other.
func wholeOrAbsent(t *testing.T, dir string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "results.json"))
	if errors.Is(err, os.ErrNotExist) {
		return
	}
	var r inspect.Results
	if err != nil || json.Unmarshal(text, &r) != nil || len(r.Pieces) == 0 {
		t.Errorf("results.json is neither whole nor absent: %d bytes, %v", len(text), err)
	}
}

// Killed at any moment, over nothing and over an earlier report, and run again.
func TestKilledAtAnyMoment(t *testing.T) {
	t.Parallel()
	kills := 8
	if testing.Short() {
		kills = 3
	}
	dir := rack(t, "good", "bare")
	whole, out := filepath.Join(t.TempDir(), "whole"), filepath.Join(t.TempDir(), "out")
	began := time.Now()
	ends(t, 1, "grade", dir, "--out", whole)
	took := time.Since(began)
	want := content(t, whole)
	random := rand.New(rand.NewPCG(7, 8))
	for kill := range kills {
		if kill%6 == 0 {
			os.RemoveAll(out)
		} else if kill%2 == 0 { // a photo changed, and changed back
			now := time.Now()
			os.Chtimes(filepath.Join(dir, "A01_1.jpg"), now, now)
			os.RemoveAll(filepath.Join(out, ".pieces"))
		}
		cmd := jigloupe("grade", dir, "--out", out)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(random.Float64() * float64(took)))
		cmd.Process.Kill()
		cmd.Wait()
		wholeOrAbsent(t, out)
	}
	ends(t, 1, "grade", dir, "--out", out)
	ends(t, 1, "grade", dir, "--out", whole)
	same(t, "after kills", content(t, out), content(t, whole))
	if got := content(t, whole)["results.json"]; got != want["results.json"] {
		t.Error("grading again gives other results")
	}
}

// Killed between two of the renames that put a report in place.
func TestKilledWhilePublishing(t *testing.T) {
	t.Parallel()
	dir := rack(t, "good")
	whole, out := filepath.Join(t.TempDir(), "whole"), filepath.Join(t.TempDir(), "out")
	ends(t, 0, "grade", dir, "--out", whole)
	ends(t, 0, "grade", dir, "--out", out)
	old := filepath.Join(out, ".unfinished", "old")
	if err := errors.Join(
		os.Remove(filepath.Join(out, "results.json")),
		os.RemoveAll(filepath.Join(out, ".pieces")),
		os.MkdirAll(old, 0o755),
		os.Rename(filepath.Join(out, "masks"), filepath.Join(old, "masks")),
		os.Rename(filepath.Join(out, "index.html"), filepath.Join(old, "index.html")),
	); err != nil {
		t.Fatal(err)
	}
	ends(t, 0, "grade", dir, "--out", out)
	same(t, "after a half-published report", content(t, out), content(t, whole))
}

// Decoders that are killed from outside while a batch is graded leave no trace.
func TestDecodersKilled(t *testing.T) {
	dir := rack(t, "good", "bare", "turned", "good", "bare", "turned")
	undisturbed, out := filepath.Join(t.TempDir(), "undisturbed"), filepath.Join(t.TempDir(), "out")
	ends(t, 1, "grade", dir, "--out", undisturbed)
	cmd := jigloupe("grade", dir, "--out", out, "--jobs", "1")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	// The first one goes at once, later ones when they have had time to finish
	// their first photo: one that breaks down twice on a photo is believed.
	const settled = 1500 * time.Millisecond
	seen, killed := map[int]time.Time{}, 0
	for running := true; running; {
		select {
		case <-ended:
			running = false
		case <-time.After(time.Millisecond):
			for _, pid := range childrenOf(cmd.Process.Pid) {
				if _, ok := seen[pid]; !ok {
					seen[pid] = time.Now()
				}
				if (len(seen) == 1 || time.Since(seen[pid]) > settled) && syscall.Kill(pid, syscall.SIGSEGV) == nil {
					killed++
				}
			}
		}
	}
	if killed == 0 {
		t.Error("no decoder was found to kill")
	}
	same(t, fmt.Sprintf("%d decoders killed", killed), content(t, out), content(t, undisturbed))
}

// childrenOf lists the processes that a process has started.
func childrenOf(parent int) (pids []int) {
	stats, _ := filepath.Glob("/proc/[0-9]*/stat")
	for _, name := range stats {
		text, err := os.ReadFile(name)
		if err != nil {
			continue
		}
		_, after, _ := strings.Cut(string(text), ") ") // behind the program's name
		if fields := strings.Fields(after); len(fields) > 1 && fields[1] == strconv.Itoa(parent) {
			pid, _ := strconv.Atoi(filepath.Base(filepath.Dir(name)))
			pids = append(pids, pid)
		}
	}
	return pids
}

// A disk that fills up, early or late, and one that can't be written to. It needs
// the right to mount a small disk.
func TestFullAndReadOnlyDisk(t *testing.T) {
	t.Parallel()
	disk := t.TempDir()
	dir := rack(t, "good", "bare")
	out := filepath.Join(disk, "out")
	roomy := filepath.Join(t.TempDir(), "out")
	ends(t, 1, "grade", dir, "--out", roomy)
	need := 0
	for _, text := range content(t, roomy) {
		need += (len(text) + 4095) / 4096 * 4096
	}
	t.Cleanup(func() { syscall.Unmount(disk, syscall.MNT_DETACH) })
	for _, part := range []int{5, 45, 90} { // of 100, what there is room for
		if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, fmt.Sprintf("size=%d", need*part/100)); err != nil {
			t.Skip("no disk to fill: ", err)
		}
		says := ends(t, 2, "grade", dir, "--out", out)
		if !strings.Contains(says, "the disk is full") || strings.Count(says, "error:") != 1 {
			t.Errorf("%d %%: %s", part, says)
		}
		wholeOrAbsent(t, out)
		if err := syscall.Unmount(disk, 0); err != nil {
			t.Fatal(err)
		}
	}
	if err := syscall.Mount("tmpfs", disk, "tmpfs", syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	if says := ends(t, 2, "grade", dir, "--out", out); !strings.Contains(says, "can only be read") || strings.Count(says, "error:") != 1 {
		t.Error(says)
	}
}

// What can't be printed is no success, of whichever command.
func TestPrintsToFullDisk(t *testing.T) {
	t.Parallel()
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip(err)
	}
	defer full.Close()
	for _, command := range []string{"--help", "--version", "limits", "completion bash"} {
		cmd := jigloupe(strings.Fields(command)...)
		var says bytes.Buffer
		cmd.Stdout, cmd.Stderr = full, &says
		if err := cmd.Run(); cmd.ProcessState.ExitCode() != exitFailed || strings.Count(says.String(), "what it prints can't be written: no space left on device\n") != 1 {
			t.Errorf("%s: %v, %s", command, err, &says)
		}
	}
}

// A record that somebody changed so that it names files elsewhere costs none of them: its
// piece is graded again.
func TestRecordNamesOtherFiles(t *testing.T) {
	t.Parallel()
	dir := rack(t, "good")
	out := filepath.Join(dir, "jigloupe")
	ends(t, 0, "grade", dir)
	want := content(t, out)
	photo, err := os.ReadFile(filepath.Join(dir, "A01_1.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	records, err := filepath.Glob(filepath.Join(out, ".pieces", "*.json"))
	if err != nil || len(records) != 1 {
		t.Fatal(records, err)
	}
	text, err := os.ReadFile(records[0])
	if err != nil {
		t.Fatal(err)
	}
	put(t, records[0], bytes.ReplaceAll(text, []byte("pictures/A01_1.jpg"), []byte("../../A01_1.jpg")))
	ends(t, 0, "grade", dir)
	if now, err := os.ReadFile(filepath.Join(dir, "A01_1.jpg")); err != nil || !bytes.Equal(now, photo) {
		t.Fatal("the photo is not what it was: ", err)
	}
	same(t, "graded again", content(t, out), want)
}

// A photo that is still being copied is graded for what is there of it, and
// again when it is whole, as if it always had been.
func TestPhotoGrowsWhileGraded(t *testing.T) {
	t.Parallel()
	dir := rack(t, "good", "bare")
	whole := filepath.Join(t.TempDir(), "whole")
	ends(t, 1, "grade", dir, "--out", whole)
	want := content(t, whole)
	path := filepath.Join(dir, "A01_1.jpg")
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "out")
	put(t, path, file[:len(file)/3])
	cmd := jigloupe("grade", dir, "--out", out)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	for n := len(file) / 3; n <= len(file); n += len(file) / 50 {
		put(t, path, file[:n])
		time.Sleep(10 * time.Millisecond)
	}
	cmd.Wait()
	wholeOrAbsent(t, out)
	put(t, path, bytes.Clone(file))
	if err := os.Chtimes(path, info.ModTime(), info.ModTime()); err != nil {
		t.Fatal(err)
	}
	ends(t, 1, "grade", dir, "--out", out)
	got := content(t, out)
	same(t, "after growing", got, want)
}

// The same bytes on one core and on several.
func TestSameOnAnyCores(t *testing.T) {
	t.Parallel()
	dir := rack(t, "good", "bare", "turned", "tiny", "empty")
	var all [2]map[string]string
	for k, env := range []string{"GOMAXPROCS=1", "GOMAXPROCS=7"} {
		out := filepath.Join(t.TempDir(), "out")
		cmd := jigloupe("grade", dir, "--out", out)
		cmd.Env = append(cmd.Env, env)
		cmd.Run() // ends with 1
		all[k] = content(t, out)
		if len(all[k]) < 8 {
			t.Fatalf("%s: %d files", env, len(all[k]))
		}
		same(t, env, all[k], all[0])
	}
}
