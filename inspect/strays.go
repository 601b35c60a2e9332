package inspect

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Endings of photos and videos that are not read, and of spreadsheets' own files;
// from memory.
var (
	strayPhotos = []string{".dng", ".raw", ".cr2", ".cr3", ".nef", ".arw", ".orf", ".rw2", ".raf", ".webp", ".gif", ".bmp", ".jxl",
		".mp4", ".mov", ".m4v", ".3gp", ".avi", ".mkv", ".webm"}
	straySheets = []string{".csv", ".tsv", ".xlsx", ".xls", ".ods", ".numbers"}
)

// strays are notes on what someone put into the folder for a photo or for one of
// the two sheets and what is not read.
func strays(entries []os.DirEntry) []string {
	var photos, notes []string
	for _, e := range entries {
		ending := strings.ToLower(filepath.Ext(e.Name()))
		if !e.IsDir() && !strings.HasPrefix(e.Name(), ".") && slices.Contains(strayPhotos, ending) {
			photos = append(photos, e.Name())
		}
	}
	if len(photos) > 0 {
		more := ""
		if n := len(photos) - 3; n > 0 {
			photos, more = photos[:3], fmt.Sprintf(" and %d more", n)
		}
		notes = append(notes, fmt.Sprintf("Not read: %s%s. Save photos as JPEG; videos are no photos.", strings.Join(photos, ", "), more))
	}
	for _, sheet := range []string{"batch", "photos"} {
		if slices.ContainsFunc(entries, func(e os.DirEntry) bool { return e.Name() == sheet+".csv" }) {
			continue
		}
		for _, e := range entries {
			name := strings.ToLower(e.Name())
			if strings.HasPrefix(name, sheet) && slices.Contains(straySheets, filepath.Ext(name)) {
				notes = append(notes, fmt.Sprintf("%s is not read: the sheet must be saved as CSV and be called %s.csv.", e.Name(), sheet))
			}
		}
	}
	return notes
}

// cameraNames are notes on photos that count as views of one piece only because a
// camera begins all its names alike: IMG_2031.jpg and IMG_2032.jpg. Cameras number
// with four digits and more.
func cameraNames(photos []BatchFile) []string {
	var notes []string
	for k, f := range photos {
		same := func(o BatchFile) bool { return o.Piece == f.Piece && o.PieceFrom == "" && digitsIn(o.View) >= 4 }
		if !same(f) || slices.ContainsFunc(photos[:k], same) {
			continue
		}
		more := 0
		for _, o := range photos[k+1:] {
			if same(o) {
				more++
			}
		}
		if more > 0 {
			notes = append(notes, fmt.Sprintf("%s and %d more, named by a camera, count as one piece, %q. If they show several, rename them (A03_1.jpg), lay tags or give their pieces in photos.csv.", f.File, more, f.Piece))
		}
	}
	return notes
}
