package calib

// turned tells whether a picture of an EXIF orientation is stored otherwise than
// upright.
func turned(orientation int) bool { return orientation >= 2 && orientation <= 8 }

// turn returns width × height pixels of three samples as they stand upright by
// the EXIF orientation, with their new size. Orientations that do not exist
// turn nothing.
func turn[T uint8 | uint16](pix []T, width, height, orientation int) (upright []T, w, h int) {
	if !turned(orientation) {
		return pix, width, height
	}
	// Where the stored pixel (0, 0) goes, and the steps in the upright picture to
	// the right and down neighbour in the stored one.
	w, h = width, height
	if orientation >= 5 {
		w, h = height, width
	}
	right, left, top, bottom := w-1, 0, 0, (h-1)*w
	var origin, dx, dy int
	switch orientation {
	case 2: // mirrored
		origin, dx, dy = top+right, -1, w
	case 3: // upside down
		origin, dx, dy = bottom+right, -1, -w
	case 4: // mirrored, upside down
		origin, dx, dy = bottom+left, 1, -w
	case 5: // mirrored about the main diagonal
		origin, dx, dy = top+left, w, 1
	case 6: // its top is at the right
		origin, dx, dy = top+right, w, -1
	case 7: // mirrored about the other diagonal
		origin, dx, dy = bottom+right, -w, -1
	case 8: // its top is at the left
		origin, dx, dy = bottom+left, -w, 1
	}
	upright = make([]T, len(pix))
	const tile = 32 // both sides of a tile stay in the cache
	for y0 := 0; y0 < height; y0 += tile {
		for x0 := 0; x0 < width; x0 += tile {
			for y := y0; y < min(y0+tile, height); y++ {
				from := pix[3*(y*width+x0) : 3*(y*width+min(x0+tile, width))]
				to := 3 * (origin + x0*dx + y*dy)
				for len(from) >= 3 {
					u := upright[to : to+3 : to+3]
					u[0], u[1], u[2] = from[0], from[1], from[2]
					from = from[3:]
					to += 3 * dx
				}
			}
		}
	}
	return upright, w, h
}
