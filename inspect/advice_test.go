package inspect

import "testing"

// TestReasonsSay holds reasons to what, where, how big, how sure and which limit.
func TestReasonsSay(t *testing.T) {
	fault := func(kind, place string, mm float64) func(*Piece) {
		return func(p *Piece) {
			p.Photos[0].ReliefFaults = []ReliefFault{{Kind: "sag", Place: "on the face near the tip", HeightMM: new(0.9 * mm)},
				{Kind: kind, Place: place, HeightMM: &mm}, {Kind: "run", Place: place}}
		}
	}
	for _, c := range []struct {
		name   string
		change func(*Piece)
		says   string
		file   string
		fix    string
	}{
		{"bare edge", func(p *Piece) {
			p.Coverage.BareAreaPct, p.Coverage.U = new(2.04), new(0.2)
			p.Photos[0].BareSpots = []BareSpot{{SharePct: 2, Shows: "metal", Where: "edge", Place: "on an edge of the collar"}}
		}, "Metal shows through on an edge of the collar: 2.0 ± 0.4 % of the visible head is bare, the limit is 0.5 %. A photo with only the lamp moved, A1_1b.jpg, would decide whether it is a shadow.", "A1_1.jpg", adviceEdge},
		{"bare face", func(p *Piece) {
			p.Photos[0].BareSpots = []BareSpot{{DiameterMM: new(1.0), DiameterU: new(0.2), SharePct: 2, Shows: "metal", Where: "face", Place: "on the face near the tip"}}
		}, "A bare spot 1.0 ± 0.4 mm across on the face near the tip shows metal, the limit is 0.5 mm. A photo with only the lamp moved, A1_1b.jpg, would decide whether it is a shadow.", "A1_1.jpg", adviceFace},
		{"doubtful face", func(p *Piece) {
			p.Photos[0].DarkSpots = []BareSpot{{DiameterMM: new(1.2), DiameterU: new(0.24), SharePct: 2, Shows: MetalOrTint, Place: "on the face of the body"}}
		}, "A place 1.2 ± 0.5 mm across on the face of the body may be bare metal or the coat in light of another colour, the limit is 0.5 mm.", "A1_1.jpg", "Photograph it in light of one colour, as in a tent."},
		{"lump", func(p *Piece) {
			fault("lump", "on the face of the body", 0.41)(p)
			p.Relief.LumpHeightMM = new(0.41)
		}, "A lump on the face of the body stands about 0.41 ± 0.16 mm high, the limit is 0.25 mm.", "A1_1.jpg", adviceLump},
		{"sag", func(p *Piece) {
			fault("sag", "on the outline near the tip", 0.6)(p)
			p.Relief.OutlineDeviationMM, p.Relief.U = new(0.6), new(0.1)
		}, "A sag on the outline near the tip stands 0.6 ± 0.2 mm out, the limit is 0.3 mm.", "A1_1.jpg", adviceSag},
		{"dent", func(p *Piece) {
			p.Relief.OutlineDeviationMM, p.Relief.U = new(-0.6), new(0.1)
		}, "The outline runs 0.6 ± 0.2 mm inside of where a smooth head's would, the limit is 0.3 mm.", "", adviceSag},
		{"pinholes", func(p *Piece) {
			hole := func(place string) ReliefFault { return ReliefFault{Kind: "pinhole", Place: place} }
			p.Photos = append(p.Photos, Photo{File: "A1_2.jpg", View: "2", Usable: true, ScaleMMPerPx: new(0.02), ReliefFaults: []ReliefFault{
				hole("on the face near the tip"), hole("on the face of the body"), hole("on the face of the body"), {Kind: "lump"}}})
			p.Photos[0].ReliefFaults = []ReliefFault{hole("on the face near the tip")}
			p.Relief.Pinholes = new(7)
		}, "7 pinholes in one view, most of them on the face of the body; 5 or more fail.", "A1_2.jpg", adviceHole},
		{"eye", func(p *Piece) { p.Eye, p.Photos[0].Eye = EyeBlocked, EyeBlocked }, "The line-tie eye is blocked with paint.", "A1_1.jpg", adviceEye},
	} {
		p := sound()
		c.change(&p)
		DefaultLimits().Judge(&p, nil)
		if len(p.Reasons) != 1 {
			t.Errorf("%s: %d reasons, want one: %+v", c.name, len(p.Reasons), p.Reasons)
			continue
		}
		if r := p.Reasons[0]; r.Says != c.says || r.File != c.file || r.Fix != c.fix {
			t.Errorf("%s: says %q in %q, try %q\nwant %q in %q, %q", c.name, r.Says, r.File, r.Fix, c.says, c.file, c.fix)
		}
	}
}
