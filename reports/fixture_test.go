package reports

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"jigloupe/inspect"
)

// The invented batch that the reports are tested with: every verdict, fault and
// gap a real batch can have, and names that try to break out of their cells.
// Its heads are balls with a collar, drawn simply; nothing here is measured.

// hostile is a piece name that a spreadsheet would run, a page would obey and a
// terminal would turn round.
const hostile = "=1+2<b onclick=\"x()\">&'\u202eK07\u2066\nzz"

// trial returns the invented batch and writes its pictures below dir.
func trial(t testing.TB, dir string) *inspect.Results {
	t.Helper()
	teal := coat{{46, -32, -4}, {40, -18, -22}, {30, 8, -30}}
	moss := coat{{52, -18, 34}, {47, 10, 38}, {36, 26, 16}}
	plum := coat{{34, 22, -20}, {30, 28, -4}, {22, 24, 10}}
	chalk := coat{{82, 1, 8}, {79, 1, 7}, {70, 2, 6}}

	r := &inspect.Results{
		Schema: inspect.Schema,
		Tool:   inspect.Tool{Name: "jigloupe", Version: "0.0-test"},
		Batch: inspect.Batch{Name: "kettle pond trial 3", Columns: []string{"powder", "base", "method", "dips", "preheat_s", "head_style", "note"},
			Notes: []string{"Pieces from the left end of the rack were shot last, when the sun had moved."}},
		Limits: inspect.DefaultLimits(),
	}
	row := func(powder, base, method, dips, preheat, note string) map[string]string {
		return map[string]string{"powder": powder, "base": base, "method": method, "dips": dips, "preheat_s": preheat, "head_style": "ball", "note": note}
	}

	k1 := piece("K01", inspect.Pass, row("dusk teal", "black", "fluid bed", "1", "9", ""))
	k1.Photos = []inspect.Photo{head(t, dir, "K01", "1", teal, nil, nil), head(t, dir, "K01", "2", teal, nil, nil)}
	k1.Travel, k1.Coverage, k1.Relief = travel(teal, "diffuse"), coverage(0.06, 0.04), relief(0.08)

	bare := []inspect.BareSpot{
		spot(1, 0.62, -0.62, 0.95, "edge", "on the parting line near the eye", "metal", 0.93),
		spot(2, 0.97, 0.1, 0.60, "edge", "on the collar", "metal", 0.88),
		spot(3, -0.45, 0.35, 0.38, "face", "on the side of the ball", "metal", 0.55),
	}
	k2 := piece("K02", inspect.Fail, row("dusk teal", "none", "fluid bed", "1", "6", "came out early"))
	k2.Photos = []inspect.Photo{head(t, dir, "K02", "1", teal, bare, nil), head(t, dir, "K02", "2", teal, nil, nil), head(t, dir, "K02", "3", teal, bare[:1], nil)}
	k2.Travel, k2.Coverage, k2.Relief = travel(teal, "diffuse"), coverage(1.12, 0.09), relief(-0.11)
	k2.Reasons = []inspect.Reason{
		{Measure: "bare_area", Outcome: inspect.Fail, Value: f(1.12), U: f(0.09), Limit: f(0.5), Unit: "%", File: "K02_1.jpg",
			Says: "1.12 % of the visible head is bare, most of it on the parting line near the eye; at most 0.5 % passes.",
			Fix:  "Sharp edges stay thin after one quick dip or too little heat. Heat a little longer, or dip twice."},
		{Measure: "bare_spot", Outcome: inspect.Fail, Value: f(0.95), U: f(0.04), Limit: f(0.5), Unit: "mm", File: "K02_1.jpg",
			Says: "A bare spot 0.95 mm across on the parting line near the eye shows metal; 0.5 mm fails.",
			Fix:  "Trim the flash before heating, and let the edge see powder from both sides."},
	}

	lumps := []inspect.ReliefFault{
		fault(1, "lump", -0.1, 0.72, 1.9, f(0.41), "on the underside"),
		fault(2, "sag", 0.4, 0.55, 1.3, f(0.22), "below the collar"),
	}
	k3 := piece("K03", inspect.Fail, row("moss turn", "white", "jar", "2", "15", "preheat doubled"))
	k3.Photos = []inspect.Photo{head(t, dir, "K03", "1", moss, nil, lumps), head(t, dir, "K03", "1b", moss, nil, lumps[:1])}
	k3.Photos[1].View, k3.Photos[1].Lamp = "1", "b"
	shadow := spot(5, -0.45, 0.5, 0.5, "face", "on the side of the ball", "metal", 0.7)
	shadow.LampMoved = inspect.Gone
	k3.Photos[1].ClearedSpots = []inspect.BareSpot{shadow}
	k3.Photos[0].ReliefFaults[0].LampMoved, k3.Photos[1].ReliefFaults[0].LampMoved = inspect.Stays, inspect.Stays
	k3.Photos[0].Eye, k3.Eye = inspect.EyeBlocked, inspect.EyeBlocked
	k3.LampMoves = []inspect.LampMove{{View: "1", Files: [2]string{"K03_1.jpg", "K03_1b.jpg"}, ByAngle: []inspect.LampChange{
		{ViewingDeg: 15, DeltaE00: 4.2, U: 0.6, Places: 12}, {ViewingDeg: 25, DeltaE00: 9.3, U: 0.7, Places: 12}}}}
	k3.Travel, k3.Coverage, k3.Relief = travel(moss, "one_lamp"), coverage(0.02, 0.02), relief(0.44)
	*k3.Relief.Lumps, k3.Relief.LumpHeightMM = 1, f(0.41)
	k3.Reasons = []inspect.Reason{
		{Measure: "eye", Outcome: inspect.Fail, File: "K03_1.jpg", Says: "The line-tie eye is blocked with paint.",
			Fix: "Clear it with a hot pin while the film is soft, or plug it before dipping. Mind the heat."},
		{Measure: "lump_height", Outcome: inspect.Fail, Value: f(0.41), U: f(0.05), Limit: f(0.25), Unit: "mm", File: "K03_1.jpg",
			Says: "A lump 0.41 mm high on the underside; 0.25 mm is the limit.",
			Fix:  "Lumps and cones come from too much preheat or packed powder. Heat for less time, and stir or fluff the powder."},
		{Measure: "outline_deviation", Outcome: inspect.Fail, Value: f(0.44), U: f(0.07), Limit: f(0.30), Unit: "mm", CloseCall: true, File: "K03_1.jpg",
			Says: "The outline stands out by 0.44 mm on the underside; 0.30 mm is the limit.", Fix: "See the lump."},
	}

	k4 := piece("K04", inspect.Retake, row("moss turn", "white", "jar", "1", "9", ""))
	k4.Seen, k4.Eye = "nothing", inspect.EyeUnseen
	k4.Photos = []inspect.Photo{
		{File: "K04_1.jpg", View: "1", Width: 2000, Height: 1500, Profile: "sRGB", Eye: inspect.EyeUnseen,
			Problems: []string{"No grey card in view. Lay the piece on the card so that card shows on all sides."}},
		{File: "K04_2.jpg", View: "2", Width: 2000, Height: 1500, Profile: "sRGB", Eye: inspect.EyeUnseen,
			Card:     &inspect.Card{Reflectance: 0.18, SharePct: 71, ClippedPct: 34, UnevennessPct: 12, ResidualPct: 1.1},
			Problems: []string{"34 % of the card is clipped to white. Turn the exposure down by two steps, or move the lamp away."}},
	}
	clipped := head(t, dir, "K04", "2", moss, nil, nil)
	k4.Photos[1].Picture = clipped.Picture // one without a card has none: its file was cut short
	k4.Reasons = []inspect.Reason{{Measure: "photo", Outcome: inspect.Retake, Says: "Neither photo can be judged: one shows no card, the other is clipped.",
		Fix: "Lay the piece on the card and shoot again with less exposure."}}

	k5 := piece("K05", inspect.Pass, row("plum smoke", "none", "fluid bed", "1", "10", "no scale"))
	k5.Photos = []inspect.Photo{head(t, dir, "K05", "1", plum, []inspect.BareSpot{spot(1, 0.2, -0.5, 0.4, "face", "on the side of the ball", "white base", 0.6)}, nil)}
	withoutScale(&k5.Photos[0])
	k5.Travel, k5.Coverage = travel(plum, "unknown"), coverage(0.44, 0.06)
	k5.Coverage.BareAreaMM2, k5.Coverage.SmallestVisibleMM = nil, nil
	k5.Reasons = []inspect.Reason{{Measure: "bare_area", Outcome: inspect.Pass, Value: f(0.44), U: f(0.06), Limit: f(0.5), Unit: "%", CloseCall: true, File: "K05_1.jpg",
		Says: "0.44 % of the visible head is bare, close to the limit of 0.5 %.", Fix: "A second photo with only the lamp moved would settle it."}}
	k5.Seen = "one side"

	many := []inspect.ReliefFault{fault(1, "run", 0.1, 0.3, 2.2, f(0.15), "down the side of the ball"), fault(2, "orange_peel", -0.3, -0.2, 3.4, nil, "on the side of the ball"),
		fault(3, "crater", 0.5, 0.1, 0.7, nil, "near the collar")}
	for i := range 7 {
		a := float64(i)
		many = append(many, fault(4+i, "pinhole", -0.55+0.11*a, -0.5+0.09*math.Mod(a*3, 7), 0.2, nil, "on the top"))
	}
	k6 := piece("K06", inspect.Fail, row("chalk bone", "white", "jar", "2", "12", ""))
	k6.Photos = []inspect.Photo{head(t, dir, "K06", "1", chalk, nil, many)}
	k6.Travel, k6.Coverage, k6.Relief = travel(chalk, "diffuse"), &inspect.Coverage{}, relief(0.12)
	k6.Relief.Pinholes, k6.Relief.OrangePeelUM = new(7), f(14)
	k6.Reasons = []inspect.Reason{
		{Measure: "pinholes", Outcome: inspect.Fail, Value: f(7), Limit: f(5), File: "K06_1.jpg", Says: "7 pinholes in one view, on the top; 5 fail.",
			Fix: "Damp powder or trapped gas. Dry the powder, and warm the head longer before the dip."},
		{Measure: "coverage_unseen", Outcome: inspect.Retake, File: "K06_1.jpg", Says: "Coat and base look alike, so a bare spot could not have been seen.",
			Fix: "Look at the edges by eye under a loupe."},
	}

	k7 := piece(hostile, inspect.Fail, row("@sum", "-black", "+jar", "1", "9", "</script><script>alert(1)</script>"))
	k7.Photos = []inspect.Photo{head(t, dir, "K07", "1", teal, bare[:1], lumps[1:])}
	k7.Travel, k7.Coverage, k7.Relief = travel(teal, "diffuse"), coverage(0.7, 0.2), relief(0.1)
	k7.Reasons = []inspect.Reason{{Measure: "bare_area", Outcome: inspect.Fail, Value: f(0.7), U: f(0.2), Limit: f(0.5), Unit: "%", CloseCall: true, File: "K07_1.jpg",
		Says: "<i>0.7 %</i> of the visible head is bare; at most 0.5 % passes.", Fix: "Dip twice."}}

	r.Pieces = []inspect.Piece{k1, k2, k3, k4, k5, k6, k7}
	count(r)
	return r
}

// against is what people said against the verdicts of the invented batch.
var against = Overrules{Schema: overrulesSchema, Overrules: []Overrule{
	{Piece: "K02", Verdict: inspect.Pass, Instead: inspect.Fail, Because: "grease, it wipes off", By: "Ana", At: noon},
	{Piece: "K04", Verdict: inspect.Fail, Instead: inspect.Retake, Because: "the eye is shut, I looked", By: "Ana", At: noon},
	{Piece: hostile, Verdict: inspect.Pass, Instead: inspect.Fail, Because: "=1+1<i>fine</i>\u202e", By: "@Bo", At: noon},
	{Piece: "K05", Verdict: inspect.Pass, Instead: inspect.Fail, Because: "as the program says by now", By: "Ana", At: noon},
	{Piece: "gone", Verdict: inspect.Pass, Instead: inspect.Fail, Because: "no longer in the batch", By: "Ana", At: noon},
}}

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.FixedZone("", 3600))

// big returns n pieces of three views each with the pictures of trial.
func big(t testing.TB, dir string, n int) *inspect.Results {
	t.Helper()
	r := trial(t, dir)
	some := []inspect.Piece{r.Pieces[0], r.Pieces[1], r.Pieces[2], r.Pieces[5]}
	r.Pieces = nil
	for i := range n {
		p := some[i%len(some)]
		p.Piece = fmt.Sprintf("N%03d", i+1)
		p.Photos = append([]inspect.Photo(nil), p.Photos...)
		for len(p.Photos) < 3 {
			p.Photos = append(p.Photos, p.Photos[0])
		}
		r.Pieces = append(r.Pieces, p)
	}
	count(r)
	return r
}

func count(r *inspect.Results) {
	r.Batch.Pieces, r.Batch.Photos, r.Batch.Pass, r.Batch.Fail, r.Batch.Retake = len(r.Pieces), 0, 0, 0, 0
	for _, p := range r.Pieces {
		r.Batch.Photos += len(p.Photos)
		switch p.Verdict {
		case inspect.Pass:
			r.Batch.Pass++
		case inspect.Fail:
			r.Batch.Fail++
		case inspect.Retake:
			r.Batch.Retake++
		}
	}
}

func f(x float64) *float64 { return &x }

func piece(name string, v inspect.Outcome, sheet map[string]string) inspect.Piece {
	return inspect.Piece{Piece: name, Verdict: v, Sheet: sheet, Seen: "two sides", Eye: inspect.EyeOpen}
}

const (
	scaleMM  = 0.021 // mm per photo px
	ballPx   = 210.0 // radius of the ball, photo px
	ballX    = 1040.0
	ballY    = 730.0
	collarPx = 95.0  // half its height
	collarTo = 305.0 // its far end from the centre of the ball
)

// spot lies at (u, v) from the centre of the ball, in radii.
func spot(n int, u, v, mm float64, where, place, shows string, confidence float64) inspect.BareSpot {
	px := mm / scaleMM
	s := inspect.BareSpot{Number: n, X: ballX + u*ballPx, Y: ballY + v*ballPx, AreaPx: int(math.Pi * px * px / 4), AreaMM2: f(math.Pi * mm * mm / 4),
		SharePct: 0.4 * mm, DiameterPx: px, DiameterMM: f(mm), DiameterU: f(0.2 * mm), Opacity: 0.12, Where: where, Place: place, Shows: shows, Confidence: confidence}
	for i := range 24 {
		a := float64(i) * math.Pi / 12
		k := px / 2 * (1 + 0.15*math.Sin(3*a))
		s.Outline = append(s.Outline, inspect.Point{X: s.X + k*math.Cos(a), Y: s.Y + k*math.Sin(a)})
	}
	return s
}

func fault(n int, kind string, u, v, mm float64, height *float64, place string) inspect.ReliefFault {
	r := inspect.ReliefFault{Number: n, Kind: kind, X: ballX + u*ballPx, Y: ballY + v*ballPx, DiameterPx: mm / scaleMM, DiameterMM: f(mm), HeightMM: height, Place: place, Confidence: 0.8}
	if height != nil {
		r.U = f(0.05)
	}
	return r
}

func withoutScale(p *inspect.Photo) {
	p.ScaleMMPerPx, p.ScaleFrom, p.Head.AreaMM2, p.Relief = nil, "", nil, nil
	for i := range p.BareSpots {
		p.BareSpots[i].AreaMM2, p.BareSpots[i].DiameterMM, p.BareSpots[i].DiameterU = nil, nil, nil
	}
}

func coverage(pct, u float64) *inspect.Coverage {
	return &inspect.Coverage{BareAreaPct: f(pct), U: f(u), BareAreaMM2: f(pct * 0.6), SmallestVisibleMM: f(0.12)}
}

func relief(worst float64) *inspect.Relief {
	r := &inspect.Relief{OutlineDeviationMM: f(worst), U: f(0.04), OutlineSeenPct: f(62), OrangePeelUM: f(6), Lumps: new(int), Pinholes: new(int), SmallestPinholeMM: f(0.2)}
	for i := range 120 {
		a := float64(i) * math.Pi / 60
		d := 0.04*math.Sin(5*a) + worst*math.Exp(-math.Pow((a-1.6)/0.3, 2))
		r.Deviation = append(r.Deviation, inspect.Sway{X: ballX + ballPx*math.Cos(a), Y: ballY + ballPx*math.Sin(a), DeviationMM: d})
	}
	return r
}

// A coat is its L*, a*, b* seen face on, at 45° and at the rim.
type coat [3][3]float64

func (c coat) at(deg float64) [3]float64 {
	k := deg / 45
	i := min(int(k), 1)
	var out [3]float64
	for n := range out {
		out[n] = c[i][n] + (k-float64(i))*(c[i+1][n]-c[i][n])
	}
	return out
}

func travel(c coat, light string) *inspect.Travel {
	t := &inspect.Travel{Light: light, DeltaE00Max: f(31.4), U: f(0.8), Interval: &[2]float64{29.8, 33}, BetweenDeg: &[2]float64{5, 75},
		Shift: &inspect.Shift{DeltaE00: 24.1, U: 0.9, Interval: [2]float64{22.3, 25.9}, BetweenDeg: [2]float64{5, 75}}, TrustedDeg: &[2]float64{0, 60}, HueArcDeg: f(84), HueArcU: f(2.2), ChromaRange: &[2]float64{22, 36}, LightnessSpan: &[2]float64{31, 46}, Flop: f(3.1)}
	for d := 5.0; d < 80; d += 10 {
		x := c.at(d)
		t.Curve = append(t.Curve, inspect.TravelBin{ViewingDeg: d, L: x[0], A: x[1], B: x[2], Px: int(9000 * math.Sin(d*math.Pi/180)), U: 0.5 + d*d/3000})
	}
	return t
}

// head draws a ball with a collar and an eye, and returns its photo with every
// measurement filled in.
func head(t testing.TB, dir, piece, view string, c coat, bare []inspect.BareSpot, bumps []inspect.ReliefFault) inspect.Photo {
	t.Helper()
	const x0, y0, w, h, scale = 700, 400, 760, 640, 0.9
	name := "pictures/" + piece + "_" + view + ".jpg"
	drawn.Lock()
	defer drawn.Unlock()
	if drawn.jpegs[name] == nil {
		drawn.jpegs[name] = drawHead(t, x0, y0, w, h, scale, c, bare, bumps)
	}
	if err := os.MkdirAll(filepath.Join(dir, "pictures"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, filepath.FromSlash(name)), drawn.jpegs[name], 0o644); err != nil {
		t.Fatal(err)
	}
	p := inspect.Photo{File: piece + "_" + view + ".jpg", View: view, Usable: true, Width: 2000, Height: 1500, Profile: "sRGB",
		Card:         &inspect.Card{Reflectance: 0.18, SharePct: 78, ClippedPct: 0, UnevennessPct: 9, ResidualPct: 0.8, CCTK: f(5200)},
		ScaleMMPerPx: f(scaleMM), ScaleFrom: "photos.csv", SharpnessPx: f(1.4),
		BareSpots: bare, ReliefFaults: bumps, Eye: inspect.EyeOpen, EyeAt: &inspect.Point{X: ballX - 20, Y: ballY - ballPx - 48},
		Travel: travel(c, "diffuse"), Coverage: coverage(0.1, 0.05), Relief: relief(0.1),
		Picture: &inspect.Picture{File: name, X: x0, Y: y0, Scale: scale, Width: w * scale, Height: h * scale}}
	p.Head = &inspect.Head{BBox: [4]int{int(ballX - ballPx), int(ballY - ballPx), int(ballPx + collarTo), int(2 * ballPx)}, AreaPx: 150000, AreaMM2: f(66), Mask: "masks/" + piece + "_" + view + ".png",
		Axis: [2]inspect.Point{{X: ballX - ballPx, Y: ballY}, {X: ballX + collarTo, Y: ballY}}}
	neck := math.Asin(collarPx / ballPx)
	for i := range 181 {
		a := neck + float64(i)*(2*math.Pi-2*neck)/180
		p.Head.Outline = append(p.Head.Outline, inspect.Point{X: ballX + ballPx*math.Cos(a), Y: ballY + ballPx*math.Sin(a)})
	}
	p.Head.Outline = append(p.Head.Outline, inspect.Point{X: ballX + collarTo, Y: ballY - collarPx}, inspect.Point{X: ballX + collarTo, Y: ballY + collarPx})
	for _, deg := range []float64{15, 30, 45, 60, 75} {
		ring := inspect.Ring{ViewingDeg: deg}
		for i := range 73 {
			a, r := float64(i)*math.Pi/36, ballPx*math.Sin(deg*math.Pi/180)
			ring.Line = append(ring.Line, inspect.Point{X: ballX + r*math.Cos(a), Y: ballY + r*math.Sin(a)})
		}
		p.Head.Rings = append(p.Head.Rings, ring)
	}
	return p
}

// drawn keeps the pictures: drawing them is most of what these tests do.
var drawn = struct {
	sync.Mutex
	jpegs map[string][]byte
}{jpegs: map[string][]byte{}}

func drawHead(t testing.TB, x0, y0, w, h, scale float64, c coat, bare []inspect.BareSpot, bumps []inspect.ReliefFault) []byte {
	t.Helper()
	pic := image.NewNRGBA(image.Rect(0, 0, int(w*scale), int(h*scale)))
	noise := rand.New(rand.NewPCG(1, 2))
	for py := range pic.Rect.Dy() {
		for px := range pic.Rect.Dx() {
			x, y := float64(px)/scale+x0-ballX, float64(py)/scale+y0-ballY
			lab := [3]float64{48 + 4*x/w, 0, 0}
			eye := math.Hypot(x+20, y+ballPx+48)
			deg := -1.0
			switch r := math.Hypot(x, y); {
			case r < ballPx:
				deg = math.Asin(r/ballPx) * 180 / math.Pi
			case x > 0 && x < collarTo && math.Abs(y) < collarPx:
				deg = math.Asin(math.Abs(y)/collarPx) * 180 / math.Pi
			case eye > 28 && eye < 48, x >= collarTo && math.Abs(y) < 16:
				lab = [3]float64{66 - math.Abs(y)/10, 0, -1}
			}
			if deg >= 0 {
				lab = c.at(deg)
				lab[0] += 26*math.Exp(-math.Pow(math.Hypot(x+70, y+80)/40, 2)) + noise.NormFloat64()*2.2
				for _, s := range bare {
					if math.Hypot(x+ballX-s.X, y+ballY-s.Y) < s.DiameterPx/2 {
						lab = [3]float64{38, 0, -2}
					}
				}
				for _, b := range bumps {
					if d := math.Hypot(x+ballX-b.X, y+ballY-b.Y) / (b.DiameterPx / 2); d < 1 {
						lab[0] += 14 * (1 - d) * (x + ballX - b.X - y - ballY + b.Y) / b.DiameterPx * -2
					}
				}
			}
			pic.SetNRGBA(px, py, rough(lab, noise.NormFloat64()))
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, pic, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// rough turns Lab into something like sRGB, good enough for a backdrop.
func rough(lab [3]float64, noise float64) color.NRGBA {
	fy := (lab[0] + noise + 16) / 116
	x, y, z := cube(fy+lab[1]/500)*0.9642, cube(fy), cube(fy-lab[2]/200)*0.8251
	enc := func(v float64) uint8 {
		return uint8(255*math.Pow(min(max(v, 0), 1), 1/2.2) + 0.5)
	}
	return color.NRGBA{enc(3.134*x - 1.617*y - 0.491*z), enc(-0.979*x + 1.916*y + 0.033*z), enc(0.072*x - 0.229*y + 1.405*z), 255}
}

func cube(v float64) float64 { return v * v * v }
