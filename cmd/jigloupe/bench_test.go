//go:build gocv_specific_modules && imdecode

package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"gocv.io/x/gocv"

	"jigloupe/calib"
	"jigloupe/inspect"
	"jigloupe/inspect/scene"
)

var benchPhoto = flag.String("photo", "", "benchmark with this JPEG instead of a drawn one of 12 megapixels")

// photo12MP is a folder with one photo of 4000 × 3000 px, the demo's first
// piece as a phone would take it.
func photo12MP(b *testing.B) (dir string, file []byte) {
	b.Helper()
	if *benchPhoto != "" {
		var err error
		if file, err = os.ReadFile(*benchPhoto); err != nil {
			b.Fatal(err)
		}
	} else {
		s := scene.Demo()[0].Spec
		s.MMPerPx *= float64(s.Width) / 4000
		s.Camera.BlurPx *= 1.5
		s.Width, s.Height = 4000, 3000
		m, _ := scene.Render(s)
		var buf bytes.Buffer
		if err := jpeg.Encode(&buf, m, &jpeg.Options{Quality: 92}); err != nil {
			b.Fatal(err)
		}
		file = buf.Bytes()
	}
	dir = b.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "T01_1.jpg"), file, 0o644); err != nil {
		b.Fatal(err)
	}
	return dir, file
}

// cpu is the time that this process has spent on all cores.
func cpu(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// cpuPerOp runs work as often as b says and reports its CPU time, also as a
// multiple of decode unless that is 0.
func cpuPerOp(b *testing.B, decode time.Duration, work func() error) time.Duration {
	b.Helper()
	before := cpu(b)
	for b.Loop() {
		if err := work(); err != nil {
			b.Fatal(err)
		}
	}
	each := (cpu(b) - before) / time.Duration(b.N)
	b.ReportMetric(float64(each.Microseconds())/1000, "cpu-ms/op")
	if decode > 0 {
		b.ReportMetric(float64(each)/float64(decode), "x-IMDecode")
	}
	return each
}

// One photo of 12 megapixels: decoded and no more, through each stage, through
// all of grade with its mask and pictures written, and through a script of
// general-purpose libraries that does about the same.
func BenchmarkPhoto12MP(b *testing.B) {
	keepRoom() // as grade does
	dir, file := photo12MP(b)
	name := filepath.Join(dir, "T01_1.jpg")
	out := b.TempDir()
	for _, p := range parts[:3] {
		if err := os.Mkdir(filepath.Join(out, p), 0o755); err != nil {
			b.Fatal(err)
		}
	}
	var decode time.Duration
	b.Run("IMDecode", func(b *testing.B) {
		decode = cpuPerOp(b, 0, func() error {
			m, err := gocv.IMDecode(file, gocv.IMReadColor)
			if err == nil {
				err = m.Close()
			}
			return err
		})
	})
	b.Run("stage/open", func(b *testing.B) {
		cpuPerOp(b, decode, func() error {
			_, err := calib.Open(name)
			return err
		})
	})
	p, err := calib.Open(name)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("stage/card", func(b *testing.B) {
		cpuPerOp(b, decode, func() error {
			_, err := calib.FindCard(p, calib.CardReflectance)
			return err
		})
	})
	folder, err := inspect.ReadBatch(dir)
	if err != nil {
		b.Fatal(err)
	}
	folder.Photos[0].ScaleMMPerPx = 0.01
	var photo *inspect.Photo
	var left *inspect.Evidence
	grade := func(each func(*inspect.Photo, *inspect.Evidence) error) func() error {
		return func() error {
			_, err := inspect.Grade(context.Background(), folder, inspect.Options{}, each)
			return err
		}
	}
	b.Run("stage/open, card, measure", func(b *testing.B) {
		cpuPerOp(b, decode, grade(func(ph *inspect.Photo, e *inspect.Evidence) error {
			if e == nil || !ph.Usable {
				b.Fatal(ph.Problems)
			}
			photo, left = ph, e
			return nil
		}))
	})
	b.Run("stage/save", func(b *testing.B) {
		cpuPerOp(b, decode, func() error { return save(out, "T01_1", photo, left) })
	})
	b.Run("grade", func(b *testing.B) {
		cpuPerOp(b, decode, grade(func(ph *inspect.Photo, e *inspect.Evidence) error { return save(out, "T01_1", ph, e) }))
	})
	b.Run("script", func(b *testing.B) {
		if exec.Command("/usr/bin/python3", "-c", "import cv2, skimage").Run() != nil {
			b.Skip("needs python3-opencv and python3-skimage")
		}
		cmd := exec.Command("/usr/bin/python3", "testdata/scripted.py", name, out, "2")
		cmd.Env = append(os.Environ(), "OPENBLAS_NUM_THREADS=1", "OMP_NUM_THREADS=1")
		said, err := cmd.CombinedOutput()
		seconds, errNumber := strconv.ParseFloat(strings.TrimSpace(string(said)), 64)
		if err != nil || errNumber != nil {
			b.Fatalf("%s, %v", said, err)
		}
		b.ReportMetric(0, "ns/op")
		b.ReportMetric(1000*seconds, "cpu-ms/op")
		b.ReportMetric(seconds/decode.Seconds(), "x-IMDecode")
		b.ReportMetric(float64(cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss)/1024, "peak-MB")
	})
}

// A batch by the program itself, on one core and on two: its time, and in a run of
// its own, for looking takes time from both cores, the most memory that it and its
// decoders have at once.
func BenchmarkBatch12MP(b *testing.B) {
	dir, file := photo12MP(b)
	for k := range 7 { // an even number with the first
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("P%02d_1.jpg", k)), file, 0o644); err != nil {
			b.Fatal(err)
		}
	}
	var one time.Duration
	for _, jobs := range []string{"1", "2"} {
		b.Run("jobs="+jobs, func(b *testing.B) {
			batch := func() *exec.Cmd {
				return jigloupe("grade", dir, "--out", filepath.Join(b.TempDir(), "out"), "--jobs", jobs)
			}
			for b.Loop() {
				cmd := batch()
				_ = cmd.Run() // the status says
				graded(b, cmd)
			}
			took := b.Elapsed() / time.Duration(b.N)
			if jobs == "1" {
				one = took
			}
			b.ReportMetric(float64(peakMemory(b, batch()))/1e6, "peak-MB")
			b.ReportMetric(one.Seconds()/took.Seconds(), "x-one-core")
		})
	}
}

// graded wants a run of grade to have ended with verdicts, of whatever kind.
func graded(b *testing.B, cmd *exec.Cmd) {
	b.Helper()
	if cmd.ProcessState == nil || cmd.ProcessState.ExitCode() < 0 || cmd.ProcessState.ExitCode() > 1 {
		b.Fatalf("%v ended with %v", cmd.Args, cmd.ProcessState)
	}
}

// peakMemory runs the program and returns the most memory in bytes that it and
// its children had together, each page of shared memory counted once.
func peakMemory(b *testing.B, cmd *exec.Cmd) (peak int) {
	b.Helper()
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	for {
		select {
		case <-ended:
			graded(b, cmd)
			return peak
		case <-time.After(20 * time.Millisecond):
			now := 0
			for _, pid := range append(childrenOf(cmd.Process.Pid), cmd.Process.Pid) {
				now += shareOfMemory(pid)
			}
			peak = max(peak, now)
		}
	}
}

// shareOfMemory is a process's memory in bytes, what it shares divided among
// those it shares it with.
func shareOfMemory(pid int) int {
	text, _ := os.ReadFile(fmt.Sprintf("/proc/%d/smaps_rollup", pid))
	for line := range strings.Lines(string(text)) {
		if f := strings.Fields(line); len(f) > 1 && f[0] == "Pss:" {
			kB, _ := strconv.Atoi(f[1])
			return kB << 10
		}
	}
	return 0 // it has just ended
}
