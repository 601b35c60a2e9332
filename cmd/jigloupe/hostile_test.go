package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
	"unicode/utf8"

	"jigloupe/inspect"
)

// A folder with everything that is no good photo, under every name that a file
// system takes, and one good photo. The good one is graded, each of the others
// is to be photographed again for one reason, and nothing else happens.
func TestHostileBatch(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "rack")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	good := photos["good"]()
	put(t, filepath.Join(dir, "GOOD_1.jpg"), good)
	bad := map[string][]byte{
		"none.jpg":                     nil,
		"one.jpg":                      {0xff},
		"short.jpg":                    good[:len(good)/2],
		"text.jpg":                     []byte("Dear aunt,\n"),
		"lying.jpg":                    lyingJPEG(good, 60000, 60000),
		"small.jpg":                    encodedJPEG(t, 1, 1),
		"flat.jpg":                     encodedJPEG(t, 65500, 1),
		"small2.png":                   encodedPNG(t, 1, 1),
		"flat2.png":                    encodedPNG(t, 65535, 1),
		"bomb.png":                     lyingPNG(30000, 30000),
		"lying2.png":                   lyingPNG(1<<31-1, 1<<31-1),
		"nothing.tif":                  []byte("II*\x00\x08\x00\x00\x00\x00\x00"),
		"loop.tif":                     []byte("II*\x00\x08\x00\x00\x00\x01\x00\x00\x01\x03\x00\x01\x00\x00\x00\xff\xff\x00\x00\x08\x00\x00\x00"),
		"empty.heic":                   append([]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), make([]byte, 40)...),
		"endless.heic":                 []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\x00\x00\x00\x01meta\x7f\xff\xff\xff\xff\xff\xff\xff"),
		"cut\nhere.jpg":                good[:200],
		"<script>alert(1)<script>.jpg": good[:300],
		"=cmd|' calc'!A1.jpg":          good[:400],
		"+1+1.jpg":                     good[:400],
		"@SUM(A1).jpg":                 good[:400],
		"-.jpg":                        good[:400],
		"--help_1.jpg":                 good[:400],
		"a..\\..\\etc.jpg":             good[:400],
		"a \u202egpj.jpg":              good[:500],
		"\xff\xfe.jpg":                 good[:500],
		"%2e%2e%2f.jpg":                good[:500],
		"CON.jpg":                      good[:500],
		"\x1b[2J\x07.jpg":              good[:500],
		strings.Repeat("x", 255-len(".jpg")) + ".jpg": good[:600],
		strings.Repeat("ü", 125) + ".jpg":             good[:600],
	}
	random := rand.New(rand.NewPCG(9, 10))
	for k := range 6 {
		file := bytes.Clone(good)
		for range 40 {
			file[100+random.IntN(len(file)-100)] = byte(random.Uint32())
		}
		bad["broken"+string(rune('a'+k))+".jpg"] = file
	}
	for name, file := range bad {
		put(t, filepath.Join(dir, name), file)
	}
	if err := syscall.Mkfifo(filepath.Join(dir, "pipe.jpg"), 0o644); err != nil {
		t.Fatal(err)
	}
	for name, to := range map[string]string{"zero.jpg": "/dev/zero", "self.jpg": "self.jpg", "folder.jpg": "/"} {
		if err := os.Symlink(to, filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	put(t, filepath.Join(dir, "huge.jpg"), nil)
	if err := os.Truncate(filepath.Join(dir, "huge.jpg"), 1<<40); err != nil {
		t.Fatal(err)
	}
	others := len(bad) + 5

	out := filepath.Join(t.TempDir(), "out")
	began := time.Now()
	cmd := jigloupe("grade", dir, "--out", out)
	says, _ := cmd.CombinedOutput()
	if status := cmd.ProcessState.ExitCode(); status != 1 {
		t.Fatalf("ended with %d: %s", status, says)
	}
	if took := time.Since(began); took > time.Minute {
		t.Errorf("took %v", took)
	}
	if rss := cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss; rss > 400<<10 {
		t.Errorf("took %d MB of memory", rss>>10)
	}
	if bytes.ContainsAny(says, "\x1b\x07\u202e") || !utf8.Valid(says) {
		t.Errorf("the screen gets what a file's name says: %q", says)
	}
	text, err := os.ReadFile(filepath.Join(out, "results.json"))
	if err != nil {
		t.Fatal(err)
	}
	var r inspect.Results
	if err := json.Unmarshal(text, &r); err != nil {
		t.Fatal(err)
	}
	if r.Batch.Pass != 1 || r.Batch.Retake != others || len(r.Pieces) != 1+others {
		t.Errorf("%d pieces: %d pass, %d retake; want 1 and %d", len(r.Pieces), r.Batch.Pass, r.Batch.Retake, others)
	}
	for _, p := range r.Pieces {
		for _, ph := range p.Photos {
			switch {
			case ph.File == "GOOD_1.jpg":
			case ph.Usable || len(ph.Problems) == 0:
				t.Errorf("%q is usable", ph.File)
			case p.Verdict != inspect.Retake || len(p.Reasons) != 1:
				t.Errorf("%q: %s for %d reasons", ph.File, p.Verdict, len(p.Reasons))
			case strings.ContainsAny(ph.Problems[0], "\n\r\x1b") || strings.Contains(ph.Problems[0], dir):
				t.Errorf("%q: %q", ph.File, ph.Problems[0])
			}
		}
	}
	page, err := os.ReadFile(filepath.Join(out, "index.html"))
	if err != nil || bytes.Contains(page, []byte("<script>alert")) {
		t.Errorf("a file's name is a script in the page, %v", err)
	}
	table, err := os.ReadFile(filepath.Join(out, "pieces.csv"))
	if err != nil || bytes.Contains(table, []byte("\n=cmd")) || bytes.Contains(table, []byte("\n@SUM")) || bytes.Contains(table, []byte("\n+1")) {
		t.Errorf("a file's name is a formula in the table, %v", err)
	}
	left, err := filepath.Glob(filepath.Join(filepath.Dir(dir), "*"))
	if err != nil || len(left) != 1 {
		t.Errorf("files beside the batch: %q", left)
	}
}

func encodedJPEG(t *testing.T, w, h int) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, w, h)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func encodedPNG(t *testing.T, w, h int) []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, w, h))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// lyingJPEG claims another size.
func lyingJPEG(file []byte, w, h uint16) []byte {
	file = bytes.Clone(file)
	at := bytes.Index(file, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(file[at+5:], h)
	binary.BigEndian.PutUint16(file[at+7:], w)
	return file
}

// lyingPNG is a header with nothing behind it.
func lyingPNG(w, h uint32) []byte {
	ihdr := binary.BigEndian.AppendUint32([]byte("IHDR"), w)
	ihdr = append(binary.BigEndian.AppendUint32(ihdr, h), 8, 2, 0, 0, 0)
	file := append([]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x0d"), ihdr...)
	return append(binary.BigEndian.AppendUint32(file, crc32.ChecksumIEEE(ihdr)), make([]byte, 1000)...)
}
