package inspect

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"jigloupe/calib"
)

// darkest is the linear level, 1 the camera's white, that the card must reach: there
// an 8-bit photo has 39 steps left below it (sRGB, IEC 61966-2-1).
const darkest = 0.02

func tooDark(c *calib.GreyCard) string {
	return fmt.Sprintf("It is too dark: the card reaches %.1f %% of white. Use more light or a longer exposure.", 100*c.Level)
}

// unreadable says why a file gave no photo.
func unreadable(err error) string {
	if errors.Is(err, os.ErrNotExist) {
		return "The file is gone: it was there when the folder was read. Put it back and grade again."
	}
	if errors.Is(err, os.ErrPermission) {
		return "It may not be opened: change the permissions of the file and grade again."
	}
	if errors.Is(err, calib.ErrUnsupported) {
		return fmt.Sprintf("It cannot be read: %v.", err) // says what to do
	}
	var where *fs.PathError
	if errors.As(err, &where) {
		err = where.Err // results name no folder of this machine
	}
	return fmt.Sprintf("It cannot be read: %v. Copy it again from the camera, or save it as JPEG or PNG.", err)
}

// unusable says why nothing was found in a photo, with the way to mend it.
func unusable(err error) string {
	switch {
	case errors.Is(err, calib.ErrNoCard):
		return "No grey card is to be seen under the piece: lay the piece on an 18 % grey card that fills most of the photo."
	case errors.Is(err, errTwoPieces):
		return "There is more than one thick thing on the card: photograph one piece at a time, in focus."
	case errors.Is(err, errOverEdge):
		return "The piece reaches over the edge of the card, or close to it, and can't be told from what lies there: lay it in the middle of the card."
	case errors.Is(err, errNoPiece):
		return "No piece stands out from the card: lay one piece on the card, close enough to fill a fifth of the photo, and focus on it."
	}
	return fmt.Sprintf("It could not be measured: %v.", err)
}
