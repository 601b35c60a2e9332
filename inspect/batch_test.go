package inspect

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// folder writes named texts and empty photos to a new folder.
func folder(t *testing.T, texts map[string]string, photos ...string) string {
	t.Helper()
	dir := t.TempDir()
	for _, p := range photos {
		texts[p] = ""
	}
	for name, text := range texts {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestReadBatch(t *testing.T) {
	for name, sheet := range map[string]string{
		"plain":                       "piece,powder,mm_per_px,my own column\nA1,dusk,0.02,x\nA2,fern,,y\n",
		"byte order mark, semicolons": "\xef\xbb\xbfPiece;Powder;mm_per_px;My own column\r\nA1;dusk;0,02;x\r\nA2;fern;;y\r\n",
		"tabs, comment, empty line":   "# a shop\npiece\tpowder\tmm_per_px\tmy own column\nA1\tdusk\t0,02\tx\n\t\t\t\nA2\tfern\t\ty\n",
		"quoted decimal comma":        "piece, powder, mm_per_px, my own column\nA1, dusk, \"0,02\", x\nA2, fern, , y\n",
	} {
		b, err := ReadBatch(folder(t, map[string]string{"batch.csv": sheet, "notes.txt": "", ".A9_1.jpg": ""}, "A1_1.jpg", "A1_2b.PNG", "A2_top.jpg"))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !slices.Equal(b.Columns, []string{"powder", "mm_per_px", "my own column"}) || len(b.Pieces) != 2 || len(b.Notes) != 0 {
			t.Errorf("%s: columns %q, pieces %v, notes %q", name, b.Columns, b.Pieces, b.Notes)
			continue
		}
		if p := b.Pieces[0]; p.Piece != "A1" || p.Sheet["powder"] != "dusk" || p.Sheet["my own column"] != "x" {
			t.Errorf("%s: first piece %v", name, p)
		}
		want := []BatchFile{
			{File: "A1_1.jpg", Piece: "A1", PieceFrom: "name", View: "1", ScaleMMPerPx: 0.02, ScaleFrom: "batch.csv"},
			{File: "A1_2b.PNG", Piece: "A1", PieceFrom: "name", View: "2", Lamp: "b", ScaleMMPerPx: 0.02, ScaleFrom: "batch.csv"},
			{File: "A2_top.jpg", Piece: "A2", PieceFrom: "name", View: "top"},
		}
		if !slices.Equal(b.Photos, want) {
			t.Errorf("%s: photos %+v", name, b.Photos)
		}
	}
}

// photos.csv goes before batch.csv and before the file's name.
func TestReadBatchPhotoSheet(t *testing.T) {
	b, err := ReadBatch(folder(t, map[string]string{
		"batch.csv":  "piece,mm_per_px\nA1,0.02\n",
		"photos.csv": "file;piece;view;light;mm_per_px\nIMG1.jpg;A1;tip;one_lamp;0,03\ngone.jpg;A1;;;\n",
	}, "IMG1.jpg", "B7_1.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	want := []BatchFile{
		{File: "B7_1.jpg", Piece: "B7", View: "1"},
		{File: "IMG1.jpg", Piece: "A1", PieceFrom: "photos.csv", View: "tip", Light: "one_lamp", ScaleMMPerPx: 0.03, ScaleFrom: "photos.csv"},
	}
	if !slices.Equal(b.Photos, want) {
		t.Errorf("photos %+v", b.Photos)
	}
	notes := []string{
		`photos.csv, line 3, names "gone.jpg", which is not in the folder.`,
		`B7_1.jpg belongs to piece "B7", which batch.csv does not list.`,
	}
	if !slices.Equal(b.Notes, notes) {
		t.Errorf("notes %q", b.Notes)
	}
}

// A row that makes no sense costs that row, or its cell, and is named.
func TestReadBatchRowMistakes(t *testing.T) {
	for _, c := range []struct{ file, text, want string }{
		{"batch.csv", "piece,note\nA1,\nA1,again\n", `batch.csv, line 3, names piece "A1" a second time: its first line counts.`},
		{"batch.csv", "piece,note\nA1,\n,lost\n", `batch.csv, line 3, names no piece: it is left out.`},
		{"batch.csv", "piece,note\nA1,\nB,a,b\n", `batch.csv, line 3, has 3 cells, but only 2 columns are named: it is left out.`},
		{"batch.csv", "piece,mm_per_px\nA1,0\n", `batch.csv, line 2, says mm_per_px "0", which is not a number above 0: it gives no scale.`},
		{"batch.csv", "piece,mm_per_px\nA1,NaN\n", `batch.csv, line 2, says mm_per_px "NaN", which is not a number above 0: it gives no scale.`},
		{"batch.csv", "piece;mm_per_px\nA1;-0,02\n", `batch.csv, line 2, says mm_per_px "-0,02", which is not a number above 0: it gives no scale.`},
		{"batch.csv", "piece,base\nA1,grey\n", `batch.csv, line 2, says base "grey", which is none of none, white and black: it is taken for a base of its own.`},
		{"batch.csv", "piece,note,note\nA1,a,b\n", `batch.csv, line 1, names the column note twice: its last cells count.`},
		{"photos.csv", "file,light\nA1_1.jpg,sunny\n", `photos.csv, line 2, says light "sunny", which is neither diffuse nor one_lamp: the light is left open.`},
		{"photos.csv", "file,mm_per_px\nA1_1.jpg,wide\n", `photos.csv, line 2, says mm_per_px "wide", which is not a number above 0: it gives no scale.`},
		{"photos.csv", "file\nB1.jpg\nB2.jpg\nB3.jpg\nB4.jpg\n", `photos.csv, line 2, names "B1.jpg", which is not in the folder; nor is what 3 other lines name.`},
		{"photos.csv", "file,view\nA1_2.jpg,1\n", `photos.csv, line 2, names "A1_2.jpg", which is not in the folder.`},
	} {
		b, err := ReadBatch(folder(t, map[string]string{c.file: c.text}, "A1_1.jpg"))
		if err != nil {
			t.Errorf("%s %q: %v", c.file, c.text, err)
			continue
		}
		if !slices.Equal(b.Notes, []string{c.want}) {
			t.Errorf("%s %q:\n got %q\nwant %q", c.file, c.text, b.Notes, c.want)
		}
		if len(b.Pieces) != 1 || b.Pieces[0].Piece != "A1" || b.Pieces[0].Sheet["note"] == "again" || b.Photos[0].ScaleMMPerPx != 0 || b.Photos[0].Light != "" {
			t.Errorf("%s %q: pieces %v, photos %v", c.file, c.text, b.Pieces, b.Photos)
		}
	}
}

// The encodings that spreadsheets save in.
func TestSheetEncodings(t *testing.T) {
	for name, text := range map[string]string{
		"UTF-8":                "piece,note\nA1,größer\n",
		"Windows-1252":         "piece,note\nA1,gr\xf6\xdfer\n",
		"UTF-16 little-endian": "\xff\xfep\x00i\x00e\x00c\x00e\x00,\x00n\x00o\x00t\x00e\x00\n\x00A\x001\x00,\x00g\x00r\x00\xf6\x00\xdf\x00e\x00r\x00",
		"UTF-16 big-endian":    "\xfe\xff\x00p\x00i\x00e\x00c\x00e\x00,\x00n\x00o\x00t\x00e\x00\n\x00A\x001\x00,\x00g\x00r\x00\xf6\x00\xdf\x00e\x00r",
	} {
		b, err := ReadBatch(folder(t, map[string]string{"batch.csv": text}, "A1_1.jpg"))
		if err != nil || len(b.Pieces) != 1 || b.Pieces[0].Sheet["note"] != "größer" {
			t.Errorf("%s: %v, %v", name, b, err)
		}
	}
}

func TestReadBatchErrors(t *testing.T) {
	for _, c := range []struct{ file, text, want string }{
		{"batch.csv", "name,note\nA1,\n", `batch.csv, line 1: the first row must name the columns, one of them "piece"; it has name, note`},
		{"batch.csv", "", `batch.csv is empty: its first row must name the columns, one of them "piece"`},
		{"batch.csv", "piece,note\nA1,\"never closed\n", `batch.csv: parse error on line 2, column 18: extraneous or missing " in quoted-field; open it in a spreadsheet and save it as CSV again`},
	} {
		_, err := ReadBatch(folder(t, map[string]string{c.file: c.text}, "A1_1.jpg"))
		if err == nil || err.Error() != c.want {
			t.Errorf("%s %q:\n got %v\nwant %s", c.file, c.text, err, c.want)
		}
	}
	empty := t.TempDir()
	if _, err := ReadBatch(empty); err == nil || !strings.HasPrefix(err.Error(), empty+" holds no photos: expected files such as A03_1.jpg") {
		t.Errorf("empty folder: %v", err)
	}
	if _, err := ReadBatch(filepath.Join(empty, "missing")); !os.IsNotExist(err) {
		t.Errorf("missing folder: %v", err)
	}
}

func TestScaleOfASheet(t *testing.T) {
	for cell, want := range map[string]string{
		"0,021": "",
		"1":     "",
		"47":    "is more than 1 mm to the pixel, and 47 px to the mm would be 0.0213",
		"-1":    "is not a number above 0",
		"wide":  "is not a number above 0",
	} {
		_, err := mmPerPx(cell)
		if got := fmt.Sprint(err); got != want && !(err == nil && want == "") {
			t.Errorf("mm_per_px %q: %v, want %q", cell, err, want)
		}
	}
}
