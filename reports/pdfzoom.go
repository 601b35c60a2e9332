package reports

import (
	"cmp"
	"fmt"
	"slices"

	"jigloupe/inspect"
)

// A zoom is a fault to be shown enlarged.
type zoom struct {
	ph *inspect.Photo
	m  mark
}

const zoomHigh, zoomGap = 24.0, 3.0 // mm

// zooms are the faults of a piece that fit side by side, those of the photo
// with the main reason and the largest before others.
func (d *document) zooms(p *inspect.Piece) []zoom {
	var all []zoom
	for i := range p.Photos {
		if ph := &p.Photos[i]; ph.Picture != nil {
			for _, m := range faults(ph) {
				all = append(all, zoom{ph, m})
			}
		}
	}
	reason, _ := MainReason(p)
	slices.SortStableFunc(all, func(a, b zoom) int {
		if x, y := a.ph.File == reason.File, b.ph.File == reason.File; x != y {
			if x {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.m.r, a.m.r)
	})
	all = all[:min(len(all), int((d.wide+zoomGap)/(zoomHigh+zoomGap)))]
	slices.SortStableFunc(all, func(a, b zoom) int {
		return cmp.Or(cmp.Compare(a.ph.File, b.ph.File), cmp.Compare(a.m.number, b.m.number))
	})
	return all
}

// enlarged shows faults in a row at d.y, each with its view and number.
func (d *document) enlarged(zooms []zoom) error {
	for i, z := range zooms {
		saved, err := d.picture(z.ph)
		if err != nil {
			return err
		}
		w := z.m.window(z.ph)
		file, err := saved.part(w, d.room.zoom)
		if err != nil {
			return fmt.Errorf("%s: %w", z.ph.Picture.File, err)
		}
		// As large as fits a square: at the picture's border a window is no square.
		k := zoomHigh / float64(max(w.Dx(), w.Dy()))
		x := margin + float64(i)*(zoomHigh+zoomGap)
		d.image(file, x, d.y, k*float64(w.Dx()), k*float64(w.Dy()))
		d.draw(zoomed(z.ph, z.m, w), x, d.y, k*float64(w.Dx()), overPhoto)
		d.fit(x, d.y+zoomHigh+3, zoomHigh, 7, "", "grey", fmt.Sprintf("view %s, no. %d", z.ph.View+z.ph.Lamp, z.m.number))
	}
	if len(zooms) > 0 {
		d.y += zoomHigh + 4
	}
	return nil
}
