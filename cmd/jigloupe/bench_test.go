//go:build gocv_specific_modules

package main

import (
	"bytes"
	"context"
	"flag"
	"image/jpeg"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"gocv.io/x/gocv"

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

// cpuPerOp runs work as often as b says and reports its CPU time.
func cpuPerOp(b *testing.B, work func() error) time.Duration {
	b.Helper()
	before := cpu(b)
	for b.Loop() {
		if err := work(); err != nil {
			b.Fatal(err)
		}
	}
	each := (cpu(b) - before) / time.Duration(b.N)
	b.ReportMetric(float64(each.Microseconds())/1000, "cpu-ms/op")
	return each
}

// One photo through all of grade, its mask and pictures written, beside nothing
// but decoding it.
func BenchmarkPhoto12MP(b *testing.B) {
	dir, file := photo12MP(b)
	out := b.TempDir()
	for _, p := range parts[:3] {
		if err := os.Mkdir(filepath.Join(out, p), 0o755); err != nil {
			b.Fatal(err)
		}
	}
	var decode time.Duration
	b.Run("IMDecode", func(b *testing.B) {
		decode = cpuPerOp(b, func() error {
			m, err := gocv.IMDecode(file, gocv.IMReadColor)
			if err == nil {
				err = m.Close()
			}
			return err
		})
	})
	b.Run("grade", func(b *testing.B) {
		folder, err := inspect.ReadBatch(dir)
		if err != nil {
			b.Fatal(err)
		}
		folder.Photos[0].ScaleMMPerPx = 0.01
		each := cpuPerOp(b, func() error {
			_, err := inspect.Grade(context.Background(), folder, inspect.Options{}, func(ph *inspect.Photo, e *inspect.Evidence) error {
				if e == nil || !ph.Usable {
					b.Fatal(ph.Problems)
				}
				return save(out, "T01_1", ph, e)
			})
			return err
		})
		b.ReportMetric(float64(each)/float64(decode), "x-IMDecode")
	})
}
