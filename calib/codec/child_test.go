package codec

import (
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

func TestMain(m *testing.M) {
	if os.Getenv(childVariable) != "" {
		os.Exit(serve(fragile))
	}
	os.Exit(m.Run())
}

const (
	breaks = "this file breaks the decoder"
	stalls = "this file keeps the decoder busy"
)

// fragile is a decoder that two files bring down, as real ones have been.
func fragile(j job, file, pix []byte) answer {
	switch string(file) {
	case breaks:
		syscall.Kill(os.Getpid(), syscall.SIGSEGV)
		time.Sleep(time.Minute)
	case stalls:
		time.Sleep(time.Minute)
	}
	return j.do(file, pix)
}

// inChildren has the test decode in children of its own.
func inChildren(t testing.TB) {
	isolated = true
	t.Cleanup(func() {
		isolated = false
		for _, c := range idle {
			c.end()
		}
		idle = nil
	})
}

func read(t testing.TB, name string) []byte {
	t.Helper()
	file, err := os.ReadFile(filepath.Join("../../testdata/photos", name))
	if err != nil {
		t.Fatal(err)
	}
	return file
}

func size(t testing.TB, file []byte) (w, h int) {
	t.Helper()
	c, err := jpeg.DecodeConfig(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	return c.Width, c.Height
}

// A child gives the same samples and the same errors.
func TestChildDecodesTheSame(t *testing.T) {
	heifs, err := filepath.Glob("../../testdata/photos/*.[ha][ev]i[cf]")
	if err != nil || len(heifs) < 2 {
		t.Fatal(heifs, err)
	}
	decode := func() (all [][]byte, errs []string) {
		whole := read(t, "q85.jpg")
		w, h := size(t, whole)
		for _, file := range [][]byte{whole, whole[:len(whole)/2], read(t, "progressive.jpg")} {
			pix, _, err := samples(DecodeJPEG(file, w, h))
			all = append(all, pix)
			errs = append(errs, errorText(err))
		}
		for _, name := range heifs {
			file := read(t, filepath.Base(name))
			h, err := ReadHEIFHeader(file)
			errs = append(errs, errorText(err))
			pix8, pix16, err := samples(DecodeHEIF(file, h))
			all, errs = append(all, h.ICC, pix8), append(errs, errorText(err))
			for _, v := range pix16 {
				all[0] = append(all[0], byte(v>>8), byte(v))
			}
		}
		return all, errs
	}
	here, hereErrs := decode()
	inChildren(t)
	there, thereErrs := decode()
	if !slices.EqualFunc(here, there, bytes.Equal) {
		t.Error("other samples from the child")
	}
	if !slices.Equal(hereErrs, thereErrs) {
		t.Errorf("the child says %q, without it %q", thereErrs, hereErrs)
	}
	if !slices.ContainsFunc(thereErrs, func(s string) bool { return strings.HasPrefix(s, ErrCutShort.Error()) }) {
		t.Errorf("no file was cut short: %q", thereErrs)
	}
}

// samples are a copy; the decoder's are freed.
func samples(s *Samples, err error) ([]uint8, []uint16, error) {
	if err != nil {
		return nil, nil, err
	}
	defer s.Free()
	return slices.Clone(s.Pix8), slices.Clone(s.Pix16), nil
}

func errorText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// A decoder that goes down or does not come back costs its photo and no other.
func TestChildThatBreaks(t *testing.T) {
	inChildren(t)
	good := read(t, "q85.jpg")
	w, h := size(t, good)
	for _, c := range []struct{ file, says string }{{breaks, "breaks down"}, {stalls, "takes longer"}} {
		childTime = time.Minute
		if c.file == stalls {
			childTime = time.Second
		}
		_, _, err := samples(DecodeJPEG([]byte(c.file), 100, 100))
		if !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.file, err)
		}
		childTime = time.Minute
		if _, _, err := samples(DecodeJPEG(good, w, h)); err != nil {
			t.Errorf("the photo after %q: %v", c.file, err)
		}
	}
}

// The samples stay as they are until they are freed, whatever is decoded meanwhile.
func TestSamplesStay(t *testing.T) {
	inChildren(t)
	file := read(t, "q85.jpg")
	w, h := size(t, file)
	first, err := DecodeJPEG(file, w, h)
	if err != nil {
		t.Fatal(err)
	}
	want := slices.Clone(first.Pix8)
	other := read(t, "progressive.jpg")
	w, h = size(t, other)
	if _, _, err := samples(DecodeJPEG(other, w, h)); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first.Pix8, want) {
		t.Error("another photo's samples")
	}
	if first.Free(); len(idle) != 2 {
		t.Errorf("%d children of two are idle", len(idle))
	}
}

// A child that something else ends is no fault of the photo.
func TestChildKilled(t *testing.T) {
	inChildren(t)
	good := read(t, "q85.jpg")
	w, h := size(t, good)
	for range 3 {
		if _, _, err := samples(DecodeJPEG(good, w, h)); err != nil {
			t.Fatal(err)
		}
		if len(idle) != 1 {
			t.Fatalf("%d children", len(idle))
		}
		other, err := takeChild(true)
		if err != nil {
			t.Fatal(err)
		}
		idle = append(idle, other)
		for _, c := range idle {
			c.cmd.Process.Kill()
		}
		if _, _, err := samples(DecodeJPEG(good, w, h)); err != nil {
			t.Fatal("with all children gone: ", err)
		}
		idle[0].end()
		idle = idle[1:]
	}
}

// Where no child can be had, photos are decoded all the same.
func TestNoChildToBeHad(t *testing.T) {
	inChildren(t)
	good := read(t, "q85.jpg")
	w, h := size(t, good)
	var before syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_NOFILE, &before); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_NOFILE, &syscall.Rlimit{Cur: 3, Max: before.Max}); err != nil {
		t.Fatal(err)
	}
	_, _, err := samples(DecodeJPEG(good, w, h))
	if err := syscall.Setrlimit(syscall.RLIMIT_NOFILE, &before); err != nil {
		t.Fatal(err)
	}
	if err != nil || len(idle) != 0 {
		t.Errorf("%v, %d children", err, len(idle))
	}
}

// Children do not outlive their parent: they end when it no longer holds the
// other end of the line.
func TestChildEndsWithItsParent(t *testing.T) {
	inChildren(t)
	good := read(t, "q85.jpg")
	w, h := size(t, good)
	if _, _, err := samples(DecodeJPEG(good, w, h)); err != nil {
		t.Fatal(err)
	}
	c := idle[0]
	idle = nil
	c.ask.Close()
	ended := make(chan error, 1)
	go func() { ended <- c.cmd.Wait() }()
	select {
	case err := <-ended:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		c.end()
		t.Error("the child is still there")
	}
}

// What decoding in a child costs, for a photo of 12 megapixels.
func BenchmarkChild(b *testing.B) {
	m := image.NewRGBA(image.Rect(0, 0, 4000, 3000))
	random := rand.New(rand.NewPCG(1, 2))
	for i := range m.Pix {
		m.Pix[i] = uint8(100 + i/4%4000/60 + random.IntN(9))
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, m, &jpeg.Options{Quality: 92}); err != nil {
		b.Fatal(err)
	}
	decode := func(b *testing.B) {
		var before, after [2]syscall.Rusage
		for i, who := range []int{syscall.RUSAGE_SELF, syscall.RUSAGE_CHILDREN} {
			syscall.Getrusage(who, &before[i])
		}
		for b.Loop() {
			if _, _, err := samples(DecodeJPEG(buf.Bytes(), 4000, 3000)); err != nil {
				b.Fatal(err)
			}
		}
		for _, c := range idle {
			c.end() // only then its time is told
		}
		idle = nil
		ms := 0.0
		for i, who := range []int{syscall.RUSAGE_SELF, syscall.RUSAGE_CHILDREN} {
			syscall.Getrusage(who, &after[i])
			ms += float64(after[i].Utime.Nano()+after[i].Stime.Nano()-before[i].Utime.Nano()-before[i].Stime.Nano()) / 1e6
		}
		b.ReportMetric(ms/float64(b.N), "cpu-ms/op")
	}
	b.Run("here", decode)
	inChildren(b)
	b.Run("child", decode)
}
