package inspect

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/pelletier/go-toml/v2"

	"jigloupe/calib"
)

// SetupFile is the name of the file in a batch folder that keeps what a set-up
// photo says of the camera.
const SetupFile = "setup.toml"

// A Setup is what a set-up photo says of the camera: how to undo what it does to
// tones and colours, and how well that works.
type Setup struct {
	Photo   string  `toml:"photo" json:"photo"`     // the set-up photo's file name
	Camera  string  `toml:"camera" json:"camera"`   // the model, "" when the photo does not say
	Profile string  `toml:"profile" json:"profile"` // the colour space of its photos
	Card    float64 `toml:"card" json:"card"`       // reflectance of the card, in (0, 1]
	calib.Fit
	calib.Tone
}

// A GreyPatch is a flat grey in a photo, at a place in px, that reflects the
// given share of the light.
type GreyPatch struct{ X, Y, Share float64 }

// Setup options: what to look for in a set-up photo. The zero value looks for the
// 24-patch target.
type SetupOptions struct {
	Card    float64        // reflectance; 0 means 18 %
	Corners *[4][2]float64 // see calib.TargetAt; nil to find the target
	Greys   []GreyPatch    // instead of the target
}

// NewSetup learns from a set-up photo, maybe that there is nothing to undo. Errors
// are those of calib.
func NewSetup(photo string, o SetupOptions) (*Setup, error) {
	if o.Card == 0 {
		o.Card = calib.CardReflectance
	}
	p, err := calib.Open(photo)
	if err != nil {
		return nil, err
	}
	defer p.Close()
	card, err := calib.FindCard(p, o.Card)
	if err != nil {
		return nil, err
	}
	var patches []calib.Patch
	switch {
	case o.Greys != nil:
		for _, g := range o.Greys {
			patch, ok := calib.GreyAt(p, card, g.X, g.Y, g.Share)
			if !ok {
				return nil, fmt.Errorf("the grey at %g,%g lies outside the photo of %d × %d px", g.X, g.Y, p.Width, p.Height)
			}
			patches = append(patches, patch)
		}
	case o.Corners != nil:
		patches, err = calib.TargetAt(p, card, *o.Corners)
	default:
		patches, err = calib.FindTarget(p, card)
	}
	if err != nil {
		return nil, err
	}
	s := &Setup{Photo: filepath.Base(photo), Camera: p.Camera, Profile: p.Profile, Card: o.Card}
	s.Tone, s.Fit, err = calib.FitTone(p, patches, o.Card)
	return s, err
}

const setupHead = `# What a set-up photo says of the camera, written by jigloupe setup. grade undoes
# it in photos that the same camera took. Delete this file to grade without it.
# delta_e00 is how far colours are off afterwards, delta_e00_without before.
`

// Plain tells whether there is nothing to undo.
func (s *Setup) Plain() bool { return len(s.Bend) == 0 }

// Text is the content of a set-up file.
func (s *Setup) Text() ([]byte, error) {
	text, err := toml.Marshal(s)
	return append([]byte(setupHead), text...), err
}

// readSetup reads the set-up file of a folder, nil when there is none.
func readSetup(dir string) (*Setup, error) {
	text, err := os.ReadFile(filepath.Join(dir, SetupFile))
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	s := &Setup{}
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(s); err != nil {
		return nil, fmt.Errorf("%s: %w; make it again with jigloupe setup, or delete it", SetupFile, err)
	}
	if !s.Tone.Valid() || !(s.Card > 0 && s.Card <= 1) {
		return nil, fmt.Errorf("%s: its numbers turn tones upside down or are out of range; make it again with jigloupe setup, or delete it", SetupFile)
	}
	return s, nil
}

// undo undoes in a photo what the set-up photo says of the camera, and returns
// what is left. Where it says nothing of the photo's camera, later is the usual
// curve, to be undone in the coat's colour alone: faults are found by comparing a
// head with itself, and need none.
func (s *Setup) undo(p *calib.Photo, card float64) (left *Tone, later *calib.Tone, mind []string) {
	switch {
	case s == nil:
	case s.Camera != "" && p.Camera != "" && s.Camera != p.Camera:
		mind = []string{fmt.Sprintf("It was taken with the camera %s and the set-up photo with %s: the curve usual for cameras was undone instead. Take a set-up photo with each camera, and keep their photos in folders of their own.", p.Camera, s.Camera)}
	case s.Profile != p.Profile:
		mind = []string{fmt.Sprintf("Its colours are in %s and those of the set-up photo in %s: the curve usual for cameras was undone instead. Take both in the same way.", p.Profile, s.Profile)}
	case s.Card != card:
		mind = []string{fmt.Sprintf("The set-up photo was read with --card %g, this one with --card %g: the curve usual for cameras was undone instead. Run jigloupe setup again with the card's value.", s.Card, card)}
	}
	if s == nil || mind != nil {
		usual := calib.UsualTone()
		return &Tone{DeltaE00: calib.UnknownTone()}, &usual, mind
	}
	p.Straighten(s.Tone)
	if s.Camera != "" && p.Camera == "" {
		mind = []string{fmt.Sprintf("It does not say which camera took it; it was taken for one of the %s of the set-up photo.", s.Camera)}
	}
	return &Tone{From: SetupFile, DeltaE00: s.DeltaE00}, nil, mind
}

// note says of a batch how far the camera's own rendering may carry its colours.
func (s *Setup) note() string {
	if s == nil {
		return fmt.Sprintf("No set-up photo was given, so the camera's tone curve is unknown and the one usual for cameras was undone: colours much lighter or darker than the card may be off by about %.0f ΔE00. That is the root mean square over the 24-patch target for curves from a tenth flatter to two fifths steeper at the card than that of sRGB; that phones lie in this range is our own judgement.", calib.UnknownTone())
	}
	camera := "no camera is named in it, so keep photos of others out of this folder"
	if s.Camera != "" {
		camera = "taken with " + s.Camera
	}
	if s.Plain() {
		return fmt.Sprintf("The set-up photo %s (%s) says that the camera leaves tones and colours as they are: its patches are off by %.1f ΔE00 in the mean, %.1f at worst.", s.Photo, camera, s.DeltaE00, s.WorstDeltaE00)
	}
	return fmt.Sprintf("What the camera does to tones and colours was undone by the set-up photo %s (%s): its patches, each predicted from the others, are off by %.1f ΔE00 in the mean, %.1f at worst, and were by %.1f before.", s.Photo, camera, s.DeltaE00, s.WorstDeltaE00, s.Without)
}
