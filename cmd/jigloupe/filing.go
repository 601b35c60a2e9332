package main

import (
	"context"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"sync"

	"golang.org/x/sync/errgroup"

	"jigloupe/inspect"
)

// fileByTags puts photos whose names say no piece under the one their tag says.
// Only those are opened for it: what a tag says against a name comes out when the
// photo is graded.
func (g grading) fileByTags(ctx context.Context, b *inspect.BatchFolder) error {
	if err := g.contents.recallTags(filepath.Join(g.outDir(), tagsFile)); err != nil {
		return err
	}
	var hand sync.Mutex
	found := map[string]string{}
	work, ctx := errgroup.WithContext(ctx)
	work.SetLimit(g.atOnce())
	for _, file := range b.Unnamed() {
		work.Go(func() error {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			if piece := g.contents.tag(filepath.Join(b.Dir, file)); piece != "" {
				hand.Lock()
				found[file] = piece
				hand.Unlock()
			}
			return nil
		})
	}
	if err := work.Wait(); err != nil {
		return err
	}
	b.FileByTags(found)
	return nil
}

// tagsFile keeps in the results' folder what tags said, so that photos are not
// opened for it when the batch is graded again.
var tagsFile = filepath.Join(".pieces", "tags.json")

type tagsRecord struct {
	Program string            `json:"program"` // another one may read more tags
	Tags    map[string]string `json:"tags"`    // piece by the photo's sum, "" where none was read
}

// recallTags takes over what the file says, if there is one by this program.
func (c *contents) recallTags(path string) error {
	program, err := c.thisProgram()
	if err != nil {
		return err
	}
	text, err := os.ReadFile(path)
	var r tagsRecord
	if err != nil || json.Unmarshal(text, &r) != nil || r.Program != program {
		return nil // then the photos are opened
	}
	c.hand.Lock()
	defer c.hand.Unlock()
	if c.tags == nil {
		c.tags = map[string]string{}
	}
	maps.Copy(c.tags, r.Tags)
	return nil
}

// recordTags writes the file, if any photo was opened for its tag.
func (o *output) recordTags(c *contents) error {
	if len(c.tags) == 0 {
		return nil
	}
	program, err := c.thisProgram()
	if err != nil {
		return err
	}
	text, err := json.Marshal(tagsRecord{program, c.tags})
	if err != nil {
		return err
	}
	o.hand.Lock()
	defer o.hand.Unlock()
	o.keep[tagsFile] = true
	return os.WriteFile(filepath.Join(o.stage, tagsFile), text, 0o644)
}

// tag is the piece that the tag in a photo says, read once as long as the photo
// stays as it is.
func (c *contents) tag(photo string) string {
	file, err := c.file(photo)
	if err != nil {
		return "" // grading the photo will say so
	}
	c.hand.Lock()
	piece, ok := c.tags[file.Sum]
	c.hand.Unlock()
	if ok {
		return piece
	}
	piece = inspect.TagPiece(photo)
	c.hand.Lock()
	defer c.hand.Unlock()
	if c.tags == nil {
		c.tags = map[string]string{}
	}
	c.tags[file.Sum] = piece
	return piece
}
