package main

import (
	"fmt"
	"os"
	"path/filepath"

	"jigloupe/calib/codec"
	"jigloupe/inspect"
	"jigloupe/reports"
)

// pictures are what a photo leaves for the reports, as files: its mask, its
// cut-out, and the cut-out with what was found drawn on it.
type pictures struct {
	mask      []byte // PNG, nil when no head was found
	picture   []byte // JPEG
	annotated []byte // JPEG
}

// save writes what a photo left under the given name.
func save(dir, name string, ph *inspect.Photo, e *inspect.Evidence) error {
	s, err := encode(ph, e)
	if err != nil || s == nil {
		return err
	}
	return s.save(dir, name, ph)
}

// encode makes files of what a photo left, nil when it left nothing.
func encode(ph *inspect.Photo, e *inspect.Evidence) (*pictures, error) {
	if e == nil {
		return nil, nil
	}
	var mask []byte
	if e.Mask != nil {
		mask = maskPNG(e.Mask, ph.Width, ph.Height)
	}
	picture, err := codec.EncodeJPEG(e.Picture, pictureQuality)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", ph.File, err)
	}
	annotated, err := codec.EncodeJPEG(reports.Draw(e.Picture, *ph), pictureQuality)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", ph.File, err)
	}
	return &pictures{mask, picture, annotated}, nil
}

// save writes the files under the given name and says so in ph.
func (s *pictures) save(dir, name string, ph *inspect.Photo) error {
	if s.mask != nil {
		ph.Head.Mask = "masks/" + name + ".png"
		if err := os.WriteFile(filepath.Join(dir, ph.Head.Mask), s.mask, 0o644); err != nil {
			return err
		}
	}
	ph.Picture.File = "pictures/" + name + ".jpg"
	if err := os.WriteFile(filepath.Join(dir, ph.Picture.File), s.picture, 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "annotated", name+".jpg"), s.annotated, 0o644)
}

// pictureQuality is high because pictures are cropped and enlarged again for
// the page; by eye on the demo.
const pictureQuality = 90
