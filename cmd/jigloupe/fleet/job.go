package fleet

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"reflect"

	"jigloupe/inspect"
)

// A Job is a piece to grade.
type Job struct {
	Key     string               `json:"key"`   // hexadecimal; covers all that the answer depends on
	Batch   *inspect.BatchFolder `json:"batch"` // the piece alone; its folder is the worker's own
	Files   []File               `json:"files"` // as Batch.Photos, in its order
	Options inspect.Options      `json:"options"`
}

// File is what a photo's file holds.
type File struct {
	Sum  string `json:"sum"`  // SHA-256, hexadecimal
	Size int64  `json:"size"` // bytes
}

const (
	// maxJob is the longest message: what a server takes unless told otherwise.
	maxJob = 1 << 20
	// maxFiles, maxFile and maxPiece bound what a worker keeps on its disk for
	// a piece, by number and bytes. 600 MB is as many samples as are decoded.
	maxFiles = 100
	maxFile  = 640 << 20
	maxPiece = 2 << 30
	// maxAnswer bounds an answer, in bytes: 1 MB a photo is much.
	maxAnswer = 128 << 20
)

// encode writes a job as a message, or says why it can't go to the fleet.
func (j *Job) encode() ([]byte, error) {
	text, err := json.Marshal(j)
	if err != nil {
		return nil, err
	}
	back, err := readJob(text)
	if err != nil {
		return nil, err
	}
	if !reflect.DeepEqual(back, j) {
		return nil, errors.New("a message can't hold all of it, such as a name that is not UTF-8")
	}
	return text, nil
}

// readJob reads a message, which anybody may have written, and refuses what
// would lead out of the worker's folder or fill its disk.
func readJob(text []byte) (*Job, error) {
	if len(text) > maxJob {
		return nil, fmt.Errorf("%d bytes are more than the %d of a job", len(text), maxJob)
	}
	j := &Job{}
	if err := json.Unmarshal(text, j); err != nil {
		return nil, err
	}
	switch {
	case !isSum(j.Key):
		return nil, errors.New("the key is no SHA-256")
	case j.Batch == nil || len(j.Batch.Pieces) != 1:
		return nil, errors.New("not one piece")
	case j.Batch.Dir != "":
		return nil, errors.New("it names a folder")
	case len(j.Files) != len(j.Batch.Photos) || len(j.Files) > maxFiles:
		return nil, fmt.Errorf("%d photos and %d files, at most %d are allowed", len(j.Batch.Photos), len(j.Files), maxFiles)
	}
	taken, total := map[string]bool{}, int64(0)
	for k, f := range j.Files {
		name := j.Batch.Photos[k].File
		if !isName(name) || taken[name] {
			return nil, fmt.Errorf("%q is no name for a photo in a folder", name)
		}
		if !isSum(f.Sum) || f.Size < 0 || f.Size > maxFile {
			return nil, fmt.Errorf("%s: no SHA-256, or more than %d bytes", name, maxFile)
		}
		taken[name] = true
		total += f.Size
	}
	if total > maxPiece {
		return nil, fmt.Errorf("photos of %d bytes, at most %d are allowed for a piece", total, int64(maxPiece))
	}
	return j, nil
}

func isSum(s string) bool {
	b, err := hex.DecodeString(s)
	return err == nil && len(b) == 32
}

// isName tells whether a name is that of a file lying directly in a folder.
func isName(s string) bool {
	return filepath.IsLocal(s) && filepath.Base(s) == s && s != "." && len(s) <= 255
}
