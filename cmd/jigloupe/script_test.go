package main

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"jigloupe/inspect/scene"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"jigloupe": main})
}

// TestScripts runs the scripts in testdata: each command's output, exit code
// and the files it leaves.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"photo":   writePhoto,
			"exits":   exits,
			"waitfor": waitFor,
			"valid":   valid,
		},
		Condition: func(name string) (bool, error) {
			if name == "root" {
				return os.Getuid() == 0, nil
			}
			return false, fmt.Errorf("no condition %s", name)
		},
	})
}

// exits runs a program and wants it to end with the given code:
// exits 2 jigloupe grade nowhere
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits code program args...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("%v ended with %d, want %d", args[1:], got, want)
	}
}

// valid holds a file to its published JSON Schema: valid results rack/jigloupe/results.json
func valid(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: valid results|overrules|answer file")
	}
	ts.Check(followsSchema(args[0], ts.ReadFile(args[1])))
}

// schemaDir holds the published schemas; scripts run elsewhere.
var schemaDir, _ = filepath.Abs("../../reports")

// followsSchema holds JSON to the schema of results, of overrules, or of what
// the named command answers.
func followsSchema(name, text string) error {
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	file := filepath.Join(schemaDir, name+".schema.json")
	if name != "results" && name != "overrules" {
		file = filepath.Join(schemaDir, "answers.schema.json#/$defs/"+name)
	}
	schema, err := c.Compile(file)
	if err != nil {
		return err
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		return err
	}
	return schema.Validate(doc)
}

// waitFor waits until a file is there: waitfor rack/jigloupe/results.json
func waitFor(ts *testscript.TestScript, neg bool, args []string) {
	for range 300 {
		if _, err := os.Stat(ts.MkAbs(args[0])); err == nil {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	ts.Fatalf("%s did not appear within 30 s", args[0])
}

// writePhoto writes a photo of a kind: photo good rack/A01_1.jpg
func writePhoto(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: photo kind file...")
	}
	draw, ok := photos[args[0]]
	if !ok {
		ts.Fatalf("no photo of kind %s", args[0])
	}
	for _, name := range args[1:] {
		name = ts.MkAbs(name)
		ts.Check(os.MkdirAll(filepath.Dir(name), 0o755))
		ts.Check(os.WriteFile(name, draw(), 0o644))
	}
}

// photos are drawn once each, when first asked for.
var photos = map[string]func() []byte{
	"good": sync.OnceValue(func() []byte { return drawPhoto(func(s *scene.Spec) {}) }),
	// lead shows beside the middle of the head
	"bare": sync.OnceValue(func() []byte {
		return drawPhoto(func(s *scene.Spec) {
			s.Pieces[0].Bare = []scene.Bare{{At: scene.Place{AlongMM: 0.6, AroundDeg: 125}, WidthMM: 1.4, SoftMM: 0.2}}
		})
	}),
	// the same piece, placed anew
	"turned": sync.OnceValue(func() []byte {
		return drawPhoto(func(s *scene.Spec) {
			s.Pieces[0].TurnDeg, s.Pieces[0].X, s.Seed = 15, -3, 2
			s.Pieces[0].Bare = []scene.Bare{{At: scene.Place{AlongMM: 0.6, AroundDeg: 125}, WidthMM: 1.4, SoftMM: 0.2}}
		})
	}),
	"empty": sync.OnceValue(func() []byte { return drawPhoto(func(s *scene.Spec) { s.Pieces = nil }) }),
	"colourless": sync.OnceValue(func() []byte {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 640, 480)), nil); err != nil {
			panic(err) // our own picture
		}
		return b.Bytes()
	}),
	"short":      sync.OnceValue(func() []byte { b := drawPhoto(func(s *scene.Spec) {}); return b[:len(b)/2] }),
	"tagged A01": sync.OnceValue(func() []byte { return tagged("A01") }),
	"tagged A02": sync.OnceValue(func() []byte { return tagged("A02") }),
	"target": sync.OnceValue(func() []byte {
		return drawPhoto(func(s *scene.Spec) {
			s.Pieces, s.MMPerPx, s.Flats = nil, 0.15, []scene.Flat{scene.Target24(60)}
			s.Camera.Tone, s.Camera.Vivid = 0.25, 0.15
		})
	}),
	"plain target": sync.OnceValue(func() []byte {
		return drawPhoto(func(s *scene.Spec) { s.Pieces, s.MMPerPx, s.Flats = nil, 0.15, []scene.Flat{scene.Target24(60)} })
	}),
	// the head is 72 px across
	"tiny": sync.OnceValue(func() []byte {
		return drawPhoto(func(s *scene.Spec) { s.MMPerPx = 0.1 })
	}),
}

// tagged draws the good photo with a tag beside the head.
func tagged(piece string) []byte {
	return drawPhoto(func(s *scene.Spec) {
		tag, err := scene.PrintedTag(piece, 8)
		if err != nil {
			panic(err) // our own name
		}
		s.MMPerPx, tag.X, tag.Y = 0.05, 9, 6.5
		s.Flats = []scene.Flat{tag}
	})
}

// drawPhoto draws a small photo of a ball head in a plain orange.
func drawPhoto(change func(*scene.Spec)) []byte {
	s := scene.Spec{
		Seed: 1, Width: 640, Height: 480, MMPerPx: 0.04, Card: &scene.Card{}, Light: scene.Tent(5500),
		Camera: scene.Camera{Exposure: 0.85, BlurPx: 0.6, FullWell: 12000, ReadNoise: 8},
		Pieces: []scene.Piece{{
			Coat: scene.Coat{Pigment: scene.RGB{0.72, 0.3, 0.02}, HalfUM: 9, BuildUM: 80}, X: -4, TiltDeg: 2,
			Head: scene.Head{Style: scene.Ball, WidthMM: 7.2, CollarMM: 3.2, Lips: 2, SocketMM: 2},
			Wire: scene.Wire{WidthMM: 0.8, ShankMM: 7, GapMM: 6.5, RingMM: 1.5},
		}},
	}
	change(&s)
	picture, _ := scene.Render(s)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture, &jpeg.Options{Quality: 92}); err != nil {
		panic(err) // our own picture
	}
	return b.Bytes()
}
