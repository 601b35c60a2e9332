package scene

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"image/jpeg"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
)

// Shot is one photo of the demo batch.
type Shot struct {
	File string
	Spec Spec
}

// The demo: one rack from an invented one-person shop, twelve pieces in seven
// powders, two views of each. Every fault the program looks for is there once,
// with one close call and one photo that must be taken again.

// The powders' names are plain descriptions of our own.
var demoCoats = map[string]Coat{
	"dusk heather":       {Flake: ColourShift(302), FlakeShare: 0.62, Pigment: RGB{0.05, 0.04, 0.08}, SpreadDeg: 9, Sparkle: 0.5},
	"brass to fern":      {Flake: ColourShift(215), FlakeShare: 0.55, Pigment: RGB{0.06, 0.08, 0.03}, SpreadDeg: 10, Sparkle: 0.6},
	"tide pool":          {Flake: ColourShift(358), FlakeShare: 0.5, Pigment: RGB{0.03, 0.07, 0.09}, SpreadDeg: 8, Sparkle: 0.5},
	"plain marigold":     {Pigment: RGB{0.72, 0.3, 0.02}, HalfUM: 9},
	"wet slate":          {Flake: Aluminium(), FlakeShare: 0.5, Tint: RGB{0.42, 0.44, 0.46}, Pigment: RGB{0.06, 0.065, 0.07}, SpreadDeg: 12, Sparkle: 0.5},
	"sloe, nearly black": {Flake: Aluminium(), FlakeShare: 0.25, Tint: RGB{0.24, 0.03, 0.2}, Pigment: RGB{0.02, 0.006, 0.018}, SpreadDeg: 10, Sparkle: 0.4},
	"oat straw, pale":    {Flake: Pearl(150), FlakeShare: 0.35, Pigment: RGB{0.75, 0.66, 0.4}, HalfUM: 34, BuildUM: 90, Sparkle: 0.3},
}

// demoPieces is the batch sheet and what is wrong with each piece.
var demoPieces = []struct {
	piece, powder, ratio string
	base                 Base
	method               string
	dips, preheat        int
	style                Style
	note                 string
	flaw                 func(*Piece)
}{
	{"T01", "dusk heather", "3:1", NoBase, "fluid bed", 2, 14, Ball, "", nil},
	{"T02", "plain marigold", "", NoBase, "dip", 1, 12, Football, "", nil},
	{"T03", "dusk heather", "3:1", NoBase, "fluid bed", 1, 7, Ball, "knocked off hard", func(p *Piece) {
		p.Bare = []Bare{
			{At: Place{AlongMM: p.Head.LipMM(1), AroundDeg: 70}, WidthMM: 0.5, ArcDeg: 80, SoftMM: 0.12, Ragged: 0.2},
			{At: Place{AlongMM: p.Head.LipMM(0), AroundDeg: 110}, WidthMM: 0.35, ArcDeg: 35, SoftMM: 0.12, Ragged: 0.2}}
	}},
	{"T04", "brass to fern", "4:1", NoBase, "dip", 1, 8, Tapered, "greasy fingers?", func(p *Piece) {
		p.Bare = []Bare{{At: Place{AlongMM: 0.6, AroundDeg: 112}, WidthMM: 1.3, SoftMM: 0.3, Ragged: 0.25}}
	}},
	{"T05", "tide pool", "3:1", NoBase, "dip", 3, 18, Bullet, "too hot?", func(p *Piece) {
		p.Relief = append(p.Relief, Relief{Kind: Lump, At: Place{AlongMM: -2, AroundDeg: 178}, WidthMM: 1.8, HeightMM: 0.55})
	}},
	{"T06", "plain marigold", "", NoBase, "dip", 3, 20, Ball, "hung too hot", func(p *Piece) {
		p.Relief = append(p.Relief, Relief{Kind: Sag, At: Place{AlongMM: -2.4, AroundDeg: 200}, WidthMM: 4.2, HeightMM: 0.6})
	}},
	{"T07", "tide pool", "3:1", NoBase, "fluid bed", 2, 15, Bullet, "", func(p *Piece) { p.Wire.EyeFilled = 1 }},
	{"T08", "sloe, nearly black", "5:1", NoBase, "dip", 2, 15, Football, "gassed", func(p *Piece) {
		p.Relief = append(p.Relief, Pinholes(8, 14, 0.24, Place{AlongMM: -0.5, AroundDeg: 75}, 2.4)...)
	}},
	{"T09", "brass to fern", "4:1", NoBase, "fluid bed", 2, 12, Tapered, "small mark by the tip", func(p *Piece) {
		p.Bare = []Bare{{At: Place{AlongMM: -4, AroundDeg: 85}, WidthMM: 0.48, SoftMM: 0.15}}
	}},
	{"T10", "dusk heather", "2:1", NoBase, "fluid bed", 2, 14, Ball, "shaky hand", nil},
	{"T11", "oat straw, pale", "8:1", WhiteBase, "fluid bed", 2, 13, Football, "", func(p *Piece) {
		p.Relief = append(p.Relief, Relief{Kind: Void, At: Place{AlongMM: 1.5, AroundDeg: 120}, WidthMM: 0.9, HeightMM: 0.15},
			Relief{Kind: Speck, At: Place{AlongMM: -1.8, AroundDeg: 60}, WidthMM: 0.16})
	}},
	{"T12", "wet slate", "3:1", NoBase, "fluid bed", 2, 13, Ball, "lamp moved for the second shot", nil},
}

// demoTagged are photos that kept the camera's name, with a tag in them.
var demoTagged = map[string]string{"T01_2.jpg": "IMG_0412.jpg", "T03_2.jpg": "IMG_0415.jpg"}

const (
	demoWidth, demoHeight = 1600, 1200
	demoQuality           = 90 // of the JPEG files
)

// Demo is the invented batch, photo by photo, in the order of the sheet.
func Demo() []Shot {
	var shots []Shot
	for i, d := range demoPieces {
		chance := dice(1000 + i)
		p := Piece{
			Seed: uint64(i),
			Head: Head{Style: d.style, WidthMM: 7.2, CollarMM: 3.2, Lips: 2, SocketMM: 2, SeamMM: 0.02},
			Wire: Wire{WidthMM: 0.8, ShankMM: 7, GapMM: 6.5, RingMM: 1.5},
			Coat: demoCoats[d.powder], Base: d.base,
		}
		p.Coat.PeelMM, p.Coat.PeelUM = 1.4, 1.5
		p.Coat.BuildUM = 45 + 18*float64(d.dips)
		if d.flaw != nil {
			d.flaw(&p)
		}
		for view := 1; view <= 2; view++ {
			s := Spec{
				Seed: uint64(100*i + view), Width: demoWidth, Height: demoHeight, MMPerPx: chance.between(0.018, 0.023),
				Card: &Card{}, Specks: 6, Hairs: 1,
				Light:  Tent(5600),
				Camera: Camera{Exposure: chance.between(0.8, 0.95), BlurPx: 0.8, FullWell: 12000, ReadNoise: 8, Vignette: 0.08, Tone: 0.06, Sharpen: 0.3},
			}
			p.TurnDeg, p.TiltDeg = chance.between(-50, 50), chance.between(1, 4)
			p.X, p.Y = chance.between(-5, -3.5), chance.between(-1.2, 1.2)
			p.RollDeg = chance.between(-6, 10)
			if view == 2 {
				// the other side: half a turn about the axis
				p.RollDeg += 180
				p.TurnDeg = 180 - p.TurnDeg
				p.X = -p.X
			}
			if i%3 == 1 {
				s.Card = &Card{WidthMM: 27, HeightMM: 21, TurnDeg: chance.between(-9, 9)}
				s.Table = []Table{WoodTable, WhiteTable, BlueTable, DarkTable}[i/3]
			}
			if i%4 == 1 {
				s.Light = Softbox(chance.between(50, 140), 5000)
			}
			file := fmt.Sprintf("%s_%d.jpg", d.piece, view)
			if number := demoTagged[file]; number != "" {
				tag, err := PrintedTag(d.piece, 8)
				if err != nil {
					panic(err) // our own names
				}
				tag.X, tag.Y, tag.TurnDeg = 15.5, 9.5, 5
				file, s.Flats = number, []Flat{tag}
				s.MMPerPx = 0.027 // from farther away, to have room for the tag
			}
			s.Pieces = []Piece{p}
			switch {
			case d.piece == "T10" && view == 2:
				s.Camera.BlurPx = 9
			case d.piece == "T12":
				s.Light = OneLamp(40, 50, 4200)
				twin := s
				twin.Light.AzimuthDeg, twin.Light.FallOffDeg = 150, 150
				twin.Seed += 50
				shots = append(shots, Shot{file, s}, Shot{fmt.Sprintf("%s_%db.jpg", d.piece, view), twin})
				continue
			}
			shots = append(shots, Shot{file, s})
		}
	}
	return shots
}

// demoSheet is the demo's batch.csv.
func demoSheet() string {
	rows := [][]string{{"piece", "powder", "base", "method", "dips", "preheat_s", "head_style", "note", "clear_to_pigment"}}
	for _, d := range demoPieces {
		rows = append(rows, []string{d.piece, d.powder, string(d.base), d.method, strconv.Itoa(d.dips), strconv.Itoa(d.preheat), string(d.style), d.note, d.ratio})
	}
	return asCSV(rows)
}

// demoScales is the demo's photos.csv: each scale as its owner read it off a
// rule, up to half a percent off. Photos with a tag need none.
func demoScales() string {
	rows := [][]string{{"file", "mm_per_px"}}
	off := dice(31)
	for _, s := range Demo() {
		read := s.Spec.MMPerPx * off.between(0.995, 1.005)
		if len(s.Spec.Flats) == 0 { // a tag says it otherwise
			rows = append(rows, []string{s.File, strconv.FormatFloat(read, 'f', 6, 64)})
		}
	}
	return asCSV(rows)
}

func asCSV(rows [][]string) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.WriteAll(rows) // a strings.Builder takes everything
	return b.String()
}

// WriteDemo draws the batch into dir, with its sheets.
func WriteDemo(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	shots := Demo()
	errs := make([]error, len(shots))
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := range next {
				errs[i] = writeShot(dir, shots[i])
			}
		}()
	}
	for i := range shots {
		next <- i
	}
	close(next)
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "batch.csv"), []byte(demoSheet()), 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "photos.csv"), []byte(demoScales()), 0o644)
}

func writeShot(dir string, s Shot) error {
	img, _ := Render(s.Spec)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: demoQuality}); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, s.File), b.Bytes(), 0o644)
}
