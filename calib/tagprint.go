package calib

import (
	"fmt"
	"image"
	"image/color"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/skip2/go-qrcode"
)

// TagModules is the code of a tag with a name, such as a piece's, true where it
// is dark, without its white border. The side is that of the printed code in mm.
func TagModules(name string, sideMM float64) ([][]bool, error) {
	text := tagWord + " " + strconv.FormatFloat(sideMM, 'f', -1, 64) + " " + name
	if got, side, ok := readTag(text); !ok || got != name || side != sideMM {
		return nil, fmt.Errorf("no tag can be made for %q with a side of %v mm: the name must be letters, digits and signs that can be printed, the side from %d to %d mm", name, sideMM, MinTagMM, MaxTagMM)
	}
	q, err := qrcode.New(text, qrcode.Medium)
	if err == nil && q.VersionNumber < 2 { // 1 has no ring in the fourth corner
		q, err = qrcode.NewWithForcedVersion(text, 2, qrcode.Medium)
	}
	if err == nil && q.VersionNumber > 6 {
		err = fmt.Errorf("the name is too long")
	}
	if err != nil {
		return nil, fmt.Errorf("no tag can be made for %q: %w", name, err)
	}
	q.DisableBorder = true
	return q.Bitmap(), nil
}

// tagWord begins the text of our tags: any other code in a photo says nothing.
const tagWord = "jigloupe"

// readTag takes name and side in mm from the text of a tag.
func readTag(text string) (name string, sideMM float64, ok bool) {
	parts := strings.SplitN(text, " ", 3)
	if len(parts) != 3 || parts[0] != tagWord || parts[2] == "" {
		return "", 0, false
	}
	unprintable := func(r rune) bool { return r == utf8.RuneError || !unicode.IsPrint(r) }
	sideMM, err := strconv.ParseFloat(parts[1], 64)
	return parts[2], sideMM, err == nil && sideMM >= MinTagMM && sideMM <= MaxTagMM &&
		strings.TrimSpace(parts[2]) == parts[2] && !strings.ContainsFunc(parts[2], unprintable)
}

// A tag's code may be so wide, in mm: below, a printer makes no clean modules;
// above, it leaves no room for the piece.
const (
	MinTagMM = 6
	MaxTagMM = 60
)

// TagPicture draws a tag with its white border, a pixel per module.
func TagPicture(modules [][]bool) *image.Gray {
	n := len(modules) + 2*TagBorder
	m := image.NewGray(image.Rect(0, 0, n, n))
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	for y, row := range modules {
		for x, dark := range row {
			if dark {
				m.SetGray(x+TagBorder, y+TagBorder, color.Gray{})
			}
		}
	}
	return m
}

// TagBorder is the white border around a code, in modules (ISO/IEC 18004).
const TagBorder = 4
