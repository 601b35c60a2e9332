package inspect

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// BatchFolder is a folder of photos, read but not yet graded.
type BatchFolder struct {
	Dir     string
	Columns []string    // of batch.csv, without "piece"
	Pieces  []BatchRow  // in the order of the sheet, then of the file names
	Notes   []string    // what the reader of the report should know about the folder
	Photos  []BatchFile // in the order of their names
	Setup   *Setup      // nil without a set-up photo

	listed []BatchRow // of batch.csv, nil without one
	wrong  []string   // notes on files that are not read and on lines of the sheets that say nothing that can be used
}

// BatchRow is one piece: its row of batch.csv by column, empty without one.
type BatchRow struct {
	Piece string
	Sheet map[string]string
}

// BatchFile is one photo: what its name, photos.csv and batch.csv say of it.
type BatchFile struct {
	File         string
	Piece        string
	PieceFrom    string  // what says so: photos.csv, name, tag, or "" for a name that need not mean a piece
	View         string  // "" when the name does not say
	Lamp         string  // "" or the letter of a lamp-moved twin
	Light        string  // declared: diffuse, one_lamp or ""
	Operator     string  // or session, of a repeat study
	ScaleMMPerPx float64 // 0 when nobody gave one
	ScaleFrom    string
	Refused      string // why it is not even opened, "" when it is
}

// photoEndings are the file names taken for photos.
var photoEndings = []string{".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif", ".avif"}

// ErrNoPhotos means that nothing in a folder is called as photos are.
var ErrNoPhotos = errors.New("holds no photos")

// ReadBatch reads the folder's photo names and, where there, batch.csv and
// photos.csv. It opens no photo.
func ReadBatch(dir string) (*BatchFolder, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	b := &BatchFolder{Dir: dir, wrong: strays(entries)}
	if b.Setup, err = readSetup(dir); err != nil {
		return nil, err
	}
	for _, e := range entries {
		if b.Setup != nil && e.Name() == b.Setup.Photo {
			continue
		}
		if e.IsDir() || strings.HasPrefix(e.Name(), ".") || !slices.Contains(photoEndings, strings.ToLower(filepath.Ext(e.Name()))) {
			continue
		}
		b.Photos = append(b.Photos, splitName(e.Name()))
	}
	if len(b.Photos) == 0 {
		return nil, fmt.Errorf("%s %w: expected files such as A03_1.jpg (%s)%s", dir, ErrNoPhotos, strings.Join(photoEndings, " "), strings.Join(append([]string{""}, b.wrong...), "; "))
	}
	if err := b.readPhotoSheet(); err != nil {
		return nil, err
	}
	if err := b.readPieceSheet(); err != nil {
		return nil, err
	}
	for k := range b.Photos {
		f := &b.Photos[k]
		if f.PieceFrom == "" && b.saysPiece(f) {
			f.PieceFrom = "name"
		}
	}
	b.file()
	return b, nil
}

// saysPiece tells whether a photo's name can only mean that piece: batch.csv
// lists it or, without a sheet, a view of one or two digits or a word follows.
// Cameras number their photos with more digits.
func (b *BatchFolder) saysPiece(f *BatchFile) bool {
	if b.listed != nil {
		return slices.ContainsFunc(b.listed, func(r BatchRow) bool { return r.Piece == f.Piece })
	}
	return f.View != "" && digitsIn(f.View) < 3
}

func digitsIn(view string) int {
	n := 0
	for _, c := range view {
		if c >= '0' && c <= '9' {
			n++
		}
	}
	return n
}

// Unnamed are the photos whose names say no piece for certain.
func (b *BatchFolder) Unnamed() []string {
	var files []string
	for _, f := range b.Photos {
		if f.PieceFrom == "" {
			files = append(files, f.File)
		}
	}
	return files
}

// FileByTags puts each unnamed photo under the piece that the tag in it says, by
// file name. If any has one, those without are pieces of their own: their names
// are a camera's, and may belong to any piece.
func (b *BatchFolder) FileByTags(piece map[string]string) {
	for k := range b.Photos {
		f := &b.Photos[k]
		if f.PieceFrom != "" || len(piece) == 0 {
			continue
		}
		stem := strings.TrimSuffix(f.File, filepath.Ext(f.File))
		if f.View == splitName(f.File).View {
			f.View, f.Lamp = stem, "" // the running number is one of the camera's
		}
		f.Piece = stem
		if p := piece[f.File]; p != "" {
			f.Piece, f.PieceFrom = p, "tag"
		}
	}
	b.file()
}

// splitName takes piece, view and lamp from a name such as A03_1b.jpg.
func splitName(name string) BatchFile {
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	f := BatchFile{File: name, Piece: stem}
	if i := strings.LastIndexByte(stem, '_'); i > 0 && i < len(stem)-1 {
		f.Piece, f.View = stem[:i], stem[i+1:]
		if n := len(f.View); n > 1 && f.View[n-1] >= 'b' && f.View[n-1] <= 'z' && f.View[n-2] >= '0' && f.View[n-2] <= '9' {
			f.View, f.Lamp = f.View[:n-1], f.View[n-1:]
		}
	}
	return f
}

// ignore notes what a row of a sheet says that cannot be used.
func (b *BatchFolder) ignore(row sheetRow, format string, args ...any) {
	b.wrong = append(b.wrong, row.at()+" "+fmt.Sprintf(format, args...))
}

func (b *BatchFolder) readPhotoSheet() error {
	sheet, err := readSheet(filepath.Join(b.Dir, "photos.csv"), "file")
	if err != nil || sheet == nil {
		return err
	}
	b.wrong = append(b.wrong, sheet.wrong...)
	var gone []sheetRow
	for _, row := range sheet.rows {
		k := slices.IndexFunc(b.Photos, func(f BatchFile) bool { return f.File == row.cell["file"] })
		if k < 0 {
			gone = append(gone, row)
			continue
		}
		f := &b.Photos[k]
		if v := row.cell["piece"]; v != "" {
			f.Piece, f.PieceFrom = v, "photos.csv"
		}
		if v := row.cell["view"]; v != "" {
			f.View = v
		}
		if f.Operator = row.cell["operator"]; f.Operator == "" {
			f.Operator = row.cell["session"]
		}
		switch v := row.cell["light"]; v {
		case "", "diffuse", "one_lamp":
			f.Light = v
		default:
			b.ignore(row, "says light %q, which is neither diffuse nor one_lamp: the light is left open.", v)
		}
		if v := row.cell["mm_per_px"]; v != "" {
			if scale, err := mmPerPx(v); err != nil {
				b.ignore(row, "says mm_per_px %q, which %v: it gives no scale.", v, err)
			} else {
				f.ScaleMMPerPx, f.ScaleFrom = scale, "photos.csv"
			}
		}
	}
	const listed = 3 // more of them are another folder's sheet, which one line says
	for _, row := range gone {
		if len(gone) > listed {
			b.ignore(row, "names %q, which is not in the folder; nor is what %d other lines name.", row.cell["file"], len(gone)-1)
			break
		}
		b.ignore(row, "names %q, which is not in the folder.", row.cell["file"])
	}
	return nil
}

func (b *BatchFolder) readPieceSheet() error {
	sheet, err := readSheet(filepath.Join(b.Dir, "batch.csv"), "piece")
	if err != nil || sheet == nil {
		return err
	}
	for _, c := range sheet.columns {
		if c != "piece" {
			b.Columns = append(b.Columns, c)
		}
	}
	b.wrong = append(b.wrong, sheet.wrong...)
	b.listed = []BatchRow{}
	known := map[string]bool{}
	for _, row := range sheet.rows {
		name := row.cell["piece"]
		switch {
		case name == "":
			b.ignore(row, "names no piece: it is left out.")
			continue
		case known[name]:
			b.ignore(row, "names piece %q a second time: its first line counts.", name)
			continue
		}
		if v := row.cell["mm_per_px"]; v != "" {
			if _, err := mmPerPx(v); err != nil {
				b.ignore(row, "says mm_per_px %q, which %v: it gives no scale.", v, err)
			}
		}
		if base := BaseOf(row.cell["base"]); !slices.Contains([]string{"none", "white", "black"}, base) {
			b.ignore(row, "says base %q, which is none of none, white and black: it is taken for a base of its own.", row.cell["base"])
		}
		known[name] = true
		delete(row.cell, "piece")
		b.listed = append(b.listed, BatchRow{name, row.cell})
	}
	return nil
}

// ListedPieces are the pieces in the batch.csv of a folder, nil without one; the
// folder needs no photos yet.
func ListedPieces(dir string) ([]string, error) {
	b := &BatchFolder{Dir: dir}
	if err := b.readPieceSheet(); err != nil {
		return nil, err
	}
	if b.listed == nil {
		return nil, nil
	}
	names := []string{}
	for _, row := range b.listed {
		names = append(names, row.Piece)
	}
	return names, nil
}

// file makes the pieces of the sheet and of the photos, and gives the photos
// what the sheet says of their pieces.
func (b *BatchFolder) file() {
	b.Pieces, b.Notes = slices.Clone(b.listed), slices.Clone(b.wrong)
	known := map[string]bool{}
	for _, row := range b.Pieces {
		known[row.Piece] = true
		scale, err := mmPerPx(row.Sheet["mm_per_px"])
		if err != nil {
			continue
		}
		for k := range b.Photos {
			if f := &b.Photos[k]; f.Piece == row.Piece && f.ScaleMMPerPx == 0 {
				f.ScaleMMPerPx, f.ScaleFrom = scale, "batch.csv"
			}
		}
	}
	tags := slices.ContainsFunc(b.Photos, func(f BatchFile) bool { return f.PieceFrom == "tag" })
	if !tags && b.listed == nil {
		b.Notes = append(b.Notes, cameraNames(b.Photos)...)
	}
	for _, f := range b.Photos {
		if !known[f.Piece] {
			known[f.Piece] = true
			b.Pieces = append(b.Pieces, BatchRow{f.Piece, map[string]string{}})
			if b.listed != nil && (f.PieceFrom != "" || !tags) {
				b.Notes = append(b.Notes, fmt.Sprintf("%s belongs to piece %q, which batch.csv does not list.", f.File, f.Piece))
			}
		}
		if tags && f.PieceFrom == "" {
			b.Notes = append(b.Notes, fmt.Sprintf("%s shows no tag that could be read, and its name says no piece: it stands by itself. Rename it, or give its piece in photos.csv.", f.File))
		}
	}
}
