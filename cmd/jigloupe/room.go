package main

import "runtime/debug"

var room []byte

// keepRoom readies the program for measuring photos, which need many large planes, a
// few at a time. Memory is collected at a quarter more than what is in use, a block
// included that is never touched and takes none: what one photo leaves stays for the
// next, up to about as much as one needs.
func keepRoom() {
	if room == nil {
		debug.SetGCPercent(25)
		room = make([]byte, 192<<20)
	}
}
