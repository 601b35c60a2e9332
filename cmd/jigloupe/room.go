package main

import "runtime/debug"

var room [][]byte

// keepRoom readies the program for measuring photos, which need many large planes, a
// few at a time. Memory is collected at 4 % more than what is in use, blocks included that
// are never touched and take none, and of what is left Go keeps a tenth of that for what
// comes next: with 12 % of 192 MB four fifths of its pages were given back and asked for
// again, a fortieth of a photo's time; with 6 % it takes 1 % less still and 25 MB more.
func keepRoom() {
	if room == nil {
		room = newRoom()
		debug.SetGCPercent(4)
	}
}

// newRoom is 800 MB. Go clears the whole of a block that begins in memory used before, and
// clearing takes memory: of small blocks those few only.
func newRoom() [][]byte {
	blocks := make([][]byte, 800)
	for k := range blocks {
		blocks[k] = make([]byte, 1<<20)
	}
	return blocks
}
