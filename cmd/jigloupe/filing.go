package main

import (
	"context"
	"path/filepath"
	"sync"

	"golang.org/x/sync/errgroup"

	"jigloupe/inspect"
)

// fileByTags puts photos whose names say no piece under the one their tag says.
// Only those are opened for it: what a tag says against a name comes out when the
// photo is graded.
func (g grading) fileByTags(ctx context.Context, b *inspect.BatchFolder) error {
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
