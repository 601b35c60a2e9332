package inspect

import (
	"errors"
	"slices"
	"strings"
	"testing"
)

// What somebody put into the folder for a photo or a sheet is not passed over in
// silence.
func TestStrays(t *testing.T) {
	b, err := ReadBatch(folder(t, map[string]string{"batch.XLSX": "", "photos.csv": "file\n", "photos.xlsx": "", "notes.txt": "", "A2_1.MOV": "", "A3_1.dng": "", "A4_1.webp": "", "A5_1.gif": "", ".A6_1.gif": ""}, "A1_1.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"Not read: A2_1.MOV, A3_1.dng, A4_1.webp and 1 more. Save photos as JPEG; videos are no photos.",
		"batch.XLSX is not read: the sheet must be saved as CSV and be called batch.csv.",
	}
	if !slices.Equal(b.Notes, want) {
		t.Errorf("notes %q", b.Notes)
	}
	if _, err := ReadBatch(folder(t, map[string]string{"A3_1.dng": ""})); !errors.Is(err, ErrNoPhotos) || !strings.HasSuffix(err.Error(), "; Not read: A3_1.dng. Save photos as JPEG; videos are no photos.") {
		t.Errorf("a folder of others: %v", err)
	}
}

// A camera's numbers are no views: that they make one piece is said.
func TestCameraNames(t *testing.T) {
	for names, want := range map[string]int{
		"IMG_2031.jpg IMG_2032.jpg IMG_2033.jpg": 1,
		"IMG_2031.jpg DSC_2032.jpg":              0, // a piece each
		"A03_001.jpg A03_002.jpg":                0, // someone's own numbers
	} {
		b, err := ReadBatch(folder(t, map[string]string{}, strings.Fields(names)...))
		if err != nil {
			t.Fatal(err)
		}
		if len(b.Notes) != want || want > 0 && !strings.HasPrefix(b.Notes[0], `IMG_2031.jpg and 2 more, named by a camera, count as one piece, "IMG".`) {
			t.Errorf("%s: notes %q", names, b.Notes)
		}
		if b.FileByTags(map[string]string{"IMG_2032.jpg": "A1"}); strings.Contains(strings.Join(b.Notes, ""), "named by a camera") {
			t.Errorf("%s, one with a tag: notes %q", names, b.Notes)
		}
	}
}
