package reports

import (
	"bytes"
	"encoding/base64"
	"html/template"
	"image"
	"image/jpeg"
	"math"
	"os"

	"github.com/disintegration/imaging"

	"jigloupe/calib/codec"
	"jigloupe/inspect"
)

// A page of 200 pieces must stay below 25 MB to be sent and opened; base64 adds
// a third, so this many bytes are left for pictures and for zoomed faults.
const (
	photoBytes = 9e6
	zoomBytes  = 2e6
	zoomLeast  = 6e3 // fewer zooms rather than smaller ones
	zoomMost   = 12  // of one photo
)

// picRoom is what one photo may take of the page.
type picRoom struct {
	photo int // bytes of its picture
	zoom  int // bytes of a zoomed fault
	zooms int // how many of its faults are shown zoomed
}

func roomFor(r *inspect.Results) picRoom {
	photos := 0
	faulty := []int{}
	for _, p := range r.Pieces {
		for _, ph := range p.Photos {
			if ph.Picture != nil {
				photos++
				faulty = append(faulty, len(ph.BareSpots)+len(ph.ReliefFaults))
			}
		}
	}
	for zooms := zoomMost; ; zooms-- {
		all := 0
		for _, n := range faulty {
			all += min(n, zooms)
		}
		if zooms == 1 || all*zoomLeast <= zoomBytes {
			return picRoom{photo: photoBytes / max(photos, 1), zoom: zoomBytes / max(all, 1), zooms: zooms}
		}
	}
}

// A savedPicture is a JPEG file that is decoded only when it must be.
type savedPicture struct {
	file []byte
	pix  image.Image
}

func openPicture(path string) (*savedPicture, error) {
	b, err := os.ReadFile(path)
	return &savedPicture{file: b}, err
}

// whole gives the picture in at most room bytes.
func (p *savedPicture) whole(room int) ([]byte, error) {
	if len(p.file) <= room {
		return p.file, nil
	}
	if err := p.decode(); err != nil {
		return nil, err
	}
	return shrunk(p.pix, room, len(p.file)*6/10) // a cut-out is kept at a higher quality than the page's
}

// part gives a window of the picture in at most room bytes.
func (p *savedPicture) part(w image.Rectangle, room int) ([]byte, error) {
	if err := p.decode(); err != nil {
		return nil, err
	}
	return shrunk(imaging.Crop(p.pix, w), room, 0)
}

func (p *savedPicture) decode() (err error) {
	if p.pix == nil {
		p.pix, err = jpeg.Decode(bytes.NewReader(p.file))
	}
	return err
}

// shrunk makes a picture smaller until it fits; likely is how many bytes it has
// at full size, 0 when that is not known.
func shrunk(m image.Image, room, likely int) ([]byte, error) {
	const quality = 80
	small, wide := m, float64(m.Bounds().Dx())
	for k := 1.0; ; {
		if likely > room {
			// Bytes fall a little slower than area: 0.95 makes one step mostly do.
			k *= 0.95 * math.Sqrt(float64(room)/float64(likely))
			small = imaging.Resize(m, max(int(k*wide), 1), 0, imaging.Box)
		}
		file, err := codec.EncodeJPEG(small, quality)
		if err != nil {
			return nil, err
		}
		if likely = len(file); likely <= room || k < 0.1 {
			return file, nil
		}
	}
}

// dataURL is the whole attribute: as a mere value every + of base64 would be
// escaped, and the pictures grow by a sixteenth.
func dataURL(file []byte) template.HTMLAttr {
	return template.HTMLAttr(`src="data:image/jpeg;base64,` + base64.StdEncoding.EncodeToString(file) + `"`)
}
