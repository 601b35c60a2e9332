package fleet

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"jigloupe/calib"
	"jigloupe/inspect"
)

// aJob is a job as it should be, with the named photos.
func aJob(names ...string) *Job {
	limits, angle := inspect.DefaultLimits(), 15.0
	j := &Job{
		Key: strings.Repeat("ab", 32),
		Batch: &inspect.BatchFolder{
			Pieces: []inspect.BatchRow{{Piece: "A01", Sheet: map[string]string{"dips": "2"}}},
			Setup:  &inspect.Setup{Photo: "grey.jpg", Tone: calib.Tone{Bend: []float64{0.1, 1. / 3}, Mix: [3][3]float64{{-0.1, 0.1, 0}}}},
		},
		Options: inspect.Options{
			Limits: &limits, Reflectance: 0.2, Version: "1",
			Repeat: &inspect.Repeatability{From: "three pieces", Measures: []inspect.Scatter{{Measure: "colour", ViewingDeg: &angle, SD: 0.7}}},
		},
	}
	for _, n := range names {
		j.Batch.Photos = append(j.Batch.Photos, inspect.BatchFile{File: n, Piece: "A01", ScaleMMPerPx: 0.1 + 0.2})
		j.Files = append(j.Files, File{Sum: strings.Repeat("cd", 32), Size: 5})
	}
	return j
}

func TestJobIsReadAsWritten(t *testing.T) {
	for _, names := range [][]string{nil, {"A01_1.jpg"}, {"A01_1.jpg", "blauer Köder \"1\"\\x.png", "..jpg"}} {
		text, err := aJob(names...).encode()
		if err != nil {
			t.Errorf("%q: %v", names, err)
			continue
		}
		if back, err := readJob(text); err != nil || !reflect.DeepEqual(back, aJob(names...)) {
			t.Errorf("%q came back as %+v, %v", names, back, err)
		}
	}
	if _, err := aJob("A\xff.jpg").encode(); err == nil {
		t.Error("a name that a message can't hold was encoded")
	}
}

// A message from anybody: nothing in it may lead out of a worker's folder or
// fill its disk.
func TestBadJobsAreRefused(t *testing.T) {
	for what, change := range map[string]func(*Job){
		"parent folder":     func(j *Job) { j.Batch.Photos[0].File = "../A01_1.jpg" },
		"absolute":          func(j *Job) { j.Batch.Photos[0].File = "/etc/passwd" },
		"folder inside":     func(j *Job) { j.Batch.Photos[0].File = "a/b.jpg" },
		"the folder itself": func(j *Job) { j.Batch.Photos[0].File = "." },
		"no name":           func(j *Job) { j.Batch.Photos[0].File = "" },
		"long name":         func(j *Job) { j.Batch.Photos[0].File = strings.Repeat("a", 256) },
		"same name twice":   func(j *Job) { j.Batch.Photos[1].File = j.Batch.Photos[0].File },
		"a folder":          func(j *Job) { j.Batch.Dir = "/" },
		"no piece":          func(j *Job) { j.Batch.Pieces = nil },
		"two pieces":        func(j *Job) { j.Batch.Pieces = append(j.Batch.Pieces, inspect.BatchRow{Piece: "B"}) },
		"no batch":          func(j *Job) { j.Batch = nil },
		"key":               func(j *Job) { j.Key = "../../x" },
		"sum":               func(j *Job) { j.Files[0].Sum = "x" },
		"a file too few":    func(j *Job) { j.Files = j.Files[1:] },
		"large file":        func(j *Job) { j.Files[0].Size = maxFile + 1 },
		"size below 0":      func(j *Job) { j.Files[0].Size = -1 },
		"large piece": func(j *Job) {
			for k := range 4 {
				j.Files[k].Size = maxFile
			}
		},
		"many photos": func(j *Job) { *j = *aJob(strings.Split(strings.Repeat("x", 101), "")...) },
		"long":        func(j *Job) { j.Batch.Notes = []string{strings.Repeat("x", maxJob)} },
	} {
		j := aJob("1.jpg", "2.jpg", "3.jpg", "4.jpg")
		change(j)
		text, err := json.Marshal(j)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := readJob(text); err == nil {
			t.Errorf("%s: not refused", what)
		}
	}
	if _, err := readJob([]byte("{")); err == nil {
		t.Error("half a message was not refused")
	}
}
