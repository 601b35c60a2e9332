package main

import "runtime/debug"

var room []byte

// keepRoom readies the program for measuring photos, which need many large planes, a
// few at a time. Memory is collected at an eighth more than what is in use, a block
// included that is never touched and takes none: what is left stays for what comes next.
func keepRoom() {
	if room == nil {
		debug.SetGCPercent(12)
		room = make([]byte, 192<<20)
	}
}
