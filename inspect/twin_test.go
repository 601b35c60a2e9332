package inspect

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"jigloupe/inspect/scene"
)

// lampPair draws a head twice: the lamp moved by so many degrees, the camera
// nudged, nothing else changed.
func lampPair(t *testing.T, spec scene.Spec, azimuth, moved float64) (photos []*Photo, seen []*lit, truths []scene.Truth) {
	t.Helper()
	for k := range 2 {
		s := spec
		s.Light = scene.OneLamp(azimuth+float64(k)*moved, 45, 4600)
		s.Seed += uint64(k)
		s.Pieces = []scene.Piece{spec.Pieces[0]}
		s.Pieces[0].X += 0.3 * float64(k)
		s.Pieces[0].TurnDeg += 3 * float64(k)
		photo, truth := shoot(t, s)
		ph, l, err := measureTwin(photo, s.MMPerPx)
		if err != nil {
			return nil, nil, nil
		}
		ph.Lamp = []string{"", "b"}[k]
		photos, seen, truths = append(photos, &ph), append(seen, l.lit), append(truths, truth)
	}
	return photos, seen, truths
}

// really tells whether a spot that was found is one that was drawn.
func (s BareSpot) really(truth scene.Truth) bool {
	for _, b := range truth.BareSpots {
		if math.Hypot(s.X-b.X, s.Y-b.Y)*truth.MMPerPx < (*s.DiameterMM+b.DiameterMM)/2 {
			return true
		}
	}
	return false
}

// A spot of bare metal stays; the same mark put where the twin shows the coat in
// full light is gone; put where the twin's lamp leaves the head dark, it can't be
// told.
func TestLampMovedDecides(t *testing.T) {
	t.Parallel()
	spec := onCard(scene.Ball, marigold)
	spec.Pieces[0].Bare = []scene.Bare{{At: scene.Place{AlongMM: -0.5, AroundDeg: 5, Facing: true}, WidthMM: 0.8, SoftMM: 0.1}}
	photos, seen, truths := lampPair(t, spec, 40, 120)
	if photos == nil {
		t.Fatal("the pair is refused")
	}
	m, ok := register(seen[0], seen[1])
	if !ok {
		t.Fatal("the pair is not registered")
	}
	// what the drawing did: 3° of turn about the middle of the frame's x axis, and 0.3 mm
	if size, turn := math.Hypot(real(m.turn), imag(m.turn)), math.Atan2(imag(m.turn), real(m.turn))*180/math.Pi; math.Abs(size-1) > 0.01 || math.Abs(turn+3) > 1.5 {
		t.Errorf("registered with %.3f times the size and a turn of %.1f°, want 1 and -3°", size, turn)
	}
	var spot BareSpot
	for _, s := range photos[0].BareSpots {
		if s.really(truths[0]) {
			spot = s
		}
	}
	if spot.DiameterMM == nil {
		t.Fatal("the spot that was drawn is not found")
	}
	// The lamp of the second photo stands at 160°, to the left and above: the
	// head's lower right is dark there.
	side := seen[0].radius * 0.55
	for _, c := range []struct {
		name   string
		dx, dy float64
		want   string
	}{
		{"where it is", 0, 0, Stays},
		{"on the side that the twin's lamp lights", -side, -0.3 * side, Gone},
		{"on the side that the twin's lamp leaves dark", seen[0].centre.X + 0.95*side - spot.X, seen[0].centre.Y + 0.95*side - spot.Y, Unclear},
	} {
		s := spot
		s.X, s.Y, s.Outline = s.X+c.dx, s.Y+c.dy, nil
		for _, p := range spot.Outline {
			s.Outline = append(s.Outline, Point{p.X + c.dx, p.Y + c.dy})
		}
		if got := (pair{photos[0], photos[1], seen[1], m, true}).ofSpot(s); got != c.want {
			t.Errorf("a mark %s: %s, want %s", c.name, got, c.want)
		}
	}
	settle(photos, seen)
	before := spot.Confidence
	for _, s := range photos[0].BareSpots {
		if s.Number == spot.Number && (s.LampMoved != Stays || s.Confidence < before) {
			t.Errorf("the spot: %q, confidence %.2f, was %.2f", s.LampMoved, s.Confidence, before)
		}
	}
}

// What is gone is put aside, and the numbers are those without it.
func TestTakeClears(t *testing.T) {
	ph := Photo{
		BareSpots: []BareSpot{{Number: 1, SharePct: 0.4, AreaMM2: value(0.2), Confidence: 0.5}, {Number: 2, SharePct: 0.3, AreaMM2: value(0.15), Confidence: 0.8}},
		ReliefFaults: []ReliefFault{
			{Number: 3, Kind: "sag", Place: "on the outline of the body", X: 10, Y: 0, DiameterPx: 8, HeightMM: value(0.5)},
			{Number: 4, Kind: "lump", Place: "on the face of the body", HeightMM: value(0.3)},
		},
		Coverage: &Coverage{BareAreaPct: value(0.7), U: value(0.09), BareAreaMM2: value(0.35)},
		Relief:   &Relief{OutlineDeviationMM: value(0.5), U: value(0.08), Deviation: []Sway{{X: 10, DeviationMM: 0.5}, {X: 100, DeviationMM: 0.1}}},
	}
	ph.take(map[int][]string{1: {Stays}, 2: {Gone}, 3: {Gone}, 4: {Unclear}})
	if len(ph.BareSpots) != 1 || ph.BareSpots[0].Confidence != 0.75 || len(ph.ClearedSpots) != 1 || ph.ClearedSpots[0].LampMoved != Gone ||
		len(ph.ReliefFaults) != 1 || ph.ReliefFaults[0].LampMoved != Unclear || len(ph.ClearedRelief) != 1 {
		t.Errorf("%+v", ph)
	}
	if c := ph.Coverage; math.Abs(*c.BareAreaPct-0.4) > 1e-9 || math.Abs(*c.BareAreaMM2-0.2) > 1e-9 || *c.U != areaDoubt(*c.BareAreaPct) {
		t.Errorf("bare area %v %% ± %v, %v mm²", *c.BareAreaPct, *c.U, *c.BareAreaMM2)
	}
	if *ph.Relief.OutlineDeviationMM != 0.1 {
		t.Errorf("the outline deviates by %v mm, want 0.1", *ph.Relief.OutlineDeviationMM)
	}
}

// Twins that contradict each other leave a mark unclear, and it counts.
func TestTwinsContradict(t *testing.T) {
	for _, c := range []struct {
		said []string
		want string
	}{
		{nil, ""}, {[]string{Unclear, Gone}, Gone}, {[]string{Stays, Unclear}, Stays}, {[]string{Gone, Gone}, Gone},
		{[]string{Stays, Gone}, Unclear}, {[]string{Stays, Gone, Gone}, Unclear}, {[]string{Unclear}, Unclear},
	} {
		if got := together(c.said); got != c.want {
			t.Errorf("%q: %q, want %q", c.said, got, c.want)
		}
	}
}

func TestReasonsAskForATwin(t *testing.T) {
	spot := BareSpot{DiameterMM: value(0.9), SharePct: 1, Shows: "metal", Place: "on an edge of the collar", Where: "edge", Confidence: 0.9}
	for said, want := range map[string]string{
		"":      "A photo with only the lamp moved, A1_1b.jpg, would decide",
		Stays:   "It stays where it is when the lamp moves",
		Unclear: "One more with the lamp on another side would decide",
	} {
		p := sound()
		s := spot
		s.LampMoved = said
		p.Photos[0].BareSpots = []BareSpot{s}
		DefaultLimits().Judge(&p, nil)
		if len(p.Reasons) != 1 || !strings.Contains(p.Reasons[0].Says, want) {
			t.Errorf("%q: %+v, want %q", said, p.Reasons, want)
		}
	}
	p := sound()
	p.Photos[0].ClearedSpots = []BareSpot{spot}
	if DefaultLimits().Judge(&p, nil); p.Verdict != Pass || len(p.Reasons) != 1 || p.Reasons[0].Measure != "cleared" {
		t.Errorf("%s, %+v", p.Verdict, p.Reasons)
	}
}

// TestLampPairs counts what lamp-moved twins say of real spots and of others,
// over coats, shapes and lamps; LAMPS=48 draws so many pairs.
func TestLampPairs(t *testing.T) {
	pairs, _ := strconv.Atoi(os.Getenv("LAMPS"))
	if pairs == 0 {
		t.Skip("LAMPS=n draws n pairs of photos")
	}
	real, other := map[string]int{}, map[string]int{}
	for n := range pairs {
		random := rand.New(rand.NewPCG(11, uint64(n)))
		spec := curveScene(n)
		spec.MMPerPx, spec.Width, spec.Height = 0.025, 800, 640
		if n%2 == 0 {
			for range 3 {
				spec.Pieces[0].Bare = append(spec.Pieces[0].Bare, scene.Bare{
					At:      scene.Place{AlongMM: -2.5 + 4.5*random.Float64(), AroundDeg: -70 + 140*random.Float64(), Facing: true},
					WidthMM: 0.5 + random.Float64(), SoftMM: 0.15, Ragged: 0.2})
			}
		}
		photos, seen, truths := lampPair(t, spec, 360*random.Float64(), 70+100*random.Float64())
		if photos == nil {
			continue
		}
		settle(photos, seen)
		for k, ph := range photos {
			for _, s := range append(ph.BareSpots, ph.ClearedSpots...) {
				if s.really(truths[k]) {
					real[s.LampMoved]++
				} else {
					other[s.LampMoved]++
				}
			}
		}
	}
	t.Logf("real spots: %v; others: %v", real, other)
	if real[Gone] > 0 {
		t.Errorf("%d real spots are called light", real[Gone])
	}
}
