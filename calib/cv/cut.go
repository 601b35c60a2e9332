//go:build gocv_specific_modules

package cv

import (
	"fmt"
	"image"
	"runtime"

	"gocv.io/x/gocv"
)

// What is known of a pixel before a cut.
const (
	Outside        = 0 // surely
	Inside         = 1
	PerhapsOutside = 2
	PerhapsInside  = 3
)

// Cut parts a picture of three 8-bit features per pixel in two, so that either
// side is alike in itself and the line between them is short and runs along
// edges. Known says what is known of each pixel; there must be some of either
// side (C. Rother, V. Kolmogorov and A. Blake, "GrabCut", ACM Trans. Graph.
// 23(3), 309–314, 2004, doi:10.1145/1015706.1015720).
// Seed casts the dice by which it first groups what is alike.
func Cut(features []uint8, known *image.Gray, rounds, seed int) (*image.Gray, error) {
	w, h := known.Rect.Dx(), known.Rect.Dy()
	img, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC3, features)
	if err != nil {
		return nil, fmt.Errorf("cut: %w", err)
	}
	defer img.Close()
	mask, err := grayMat(known)
	if err != nil {
		return nil, err
	}
	defer mask.Close()
	// OpenCV's dice belong to the thread and start where the last call left them
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	gocv.SetRNGSeed(seed)
	in, out := gocv.NewMat(), gocv.NewMat()
	defer in.Close()
	defer out.Close()
	if err := gocv.GrabCut(img, &mask, image.Rectangle{}, &out, &in, rounds, gocv.GCInitWithMask); err != nil {
		return nil, fmt.Errorf("cut: %w", err)
	}
	raw, err := mask.DataPtrUint8()
	if err != nil || len(raw) != w*h {
		return nil, fmt.Errorf("cut: %w", ErrEmpty)
	}
	part := image.NewGray(image.Rect(0, 0, w, h))
	for i, v := range raw {
		if v == Inside || v == PerhapsInside {
			part.Pix[i] = 255
		}
	}
	return part, nil
}
