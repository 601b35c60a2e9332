package inspect

import (
	"fmt"
	"math"

	"jigloupe/calib"
)

// hidden tells whether a tag lies over a place of the photo.
func hidden(tags []calib.Tag, x, y float64) bool {
	for k := range tags {
		if tags[k].Covers(x, y) {
			return true
		}
	}
	return false
}

// TagPiece is the piece that the tag in a photo names, "" when no tag, or
// more than one piece's, can be read there.
func TagPiece(photo string) string {
	p, err := calib.Open(photo)
	if err != nil {
		return "" // grading the photo will say so
	}
	defer p.Close()
	tags, err := p.Tags(nil)
	if err != nil {
		return ""
	}
	if t, _, _ := theTag(tags); t != nil {
		return t.Piece
	}
	return ""
}

// theTag describes the tag in a photo, nil when there is none. Tags of several
// pieces are a problem.
func theTag(tags []calib.Tag) (t *Tag, size calib.Size, wrong []string) {
	for k := range tags {
		piece := tags[k].Name
		switch {
		case t != nil && t.Piece != piece:
			return nil, size, []string{fmt.Sprintf("It shows tags of two pieces, %s and %s: leave only the right one on the card.", t.Piece, piece)}
		case t != nil:
			continue
		}
		size = tags[k].Size()
		t = &Tag{Piece: piece, SideMM: tags[k].SideMM, TiltDeg: size.TiltDeg, TiltUDeg: size.TiltUDeg}
		for i, c := range tags[k].Corners {
			t.Corners[i] = Point{c[0], c[1]}
		}
	}
	return t, size, nil
}

// against sets the tag against what file name and sheet say of the photo. It
// returns what must be mended before the photo counts, and what to mind.
func (t *Tag) against(f BatchFile) (wrong, mind []string) {
	switch {
	case t.Piece == f.Piece:
	case f.PieceFrom == "name":
		wrong = append(wrong, fmt.Sprintf("Its tag says piece %s, its name %s, and one of them is wrong: rename the photo, or take it again with the right tag, or give its piece in photos.csv.", t.Piece, f.Piece))
	case f.PieceFrom == "photos.csv":
		mind = append(mind, fmt.Sprintf("Its tag says piece %s; it was filed under %s because photos.csv says so.", t.Piece, f.Piece))
	}
	return wrong, mind
}

// setScale takes the scale from the tag for the head at a place: a measured scale
// is better than a typed one. It says so when the two disagree by more than twice
// their standard uncertainty, and when the card is askew.
func (ph *Photo) setScale(t *Tag, size calib.Size, head Point) {
	scale := t.SideMM / size.SidePx
	middle := Point{(t.Corners[0].X + t.Corners[2].X) / 2, (t.Corners[0].Y + t.Corners[2].Y) / 2}
	away := math.Hypot(head.X-middle.X, head.Y-middle.Y) * scale // mm
	// The line on the sheet of tags is read to half a millimetre in 50. On a
	// tilted card the head is nearer or farther than the tag: by the tilt over
	// the distance between them, seen from 150 mm, about the nearest that phones
	// focus at.
	const lineShare, nearestMM = 0.5 / 50 / 1.732, 150.0
	tilt := math.Hypot(t.TiltDeg, t.TiltUDeg) * math.Pi / 180
	share := math.Sqrt(lineShare*lineShare + math.Pow(size.U/size.SidePx, 2) + math.Pow(math.Sin(tilt)*away/nearestMM, 2)/3)
	if ph.ScaleMMPerPx != nil {
		const typed = 0.01 // standard uncertainty of a scale read off a rule, by our own judgement
		typedScale := *ph.ScaleMMPerPx
		if off := typedScale/scale - 1; math.Abs(off) > 2*math.Hypot(share, typed) {
			ph.Problems = append(ph.Problems, fmt.Sprintf("Its tag gives %.4f ± %.4f mm per px, %s %.4f, which is %+.0f %%. The tag was believed: correct %s, or measure the 50 mm line on the sheet of tags.",
				scale, scale*share, ph.ScaleFrom, typedScale, 100*off, ph.ScaleFrom))
		}
	}
	u := scale * share
	ph.ScaleMMPerPx, ph.ScaleU, ph.ScaleFrom = &scale, &u, "tag"
	const askew = 10 // degrees: lengths across are then 1.5 % short
	if t.TiltDeg-2*t.TiltUDeg > askew {
		ph.Problems = append(ph.Problems, fmt.Sprintf("The card is tilted by %.0f° ± %.0f° to the camera: hold it straight above.", t.TiltDeg, t.TiltUDeg))
	}
}
