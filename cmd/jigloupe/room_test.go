package main

import (
	"fmt"
	"os"
	"runtime"
	"testing"
)

// Room takes no memory, not even where it comes to lie on memory used before.
func TestRoomTakesNone(t *testing.T) {
	resident := func() (mb int) {
		text, err := os.ReadFile("/proc/self/statm")
		if err != nil {
			t.Skip(err)
		}
		var all, pages int
		if _, err := fmt.Sscan(string(text), &all, &pages); err != nil {
			t.Fatal(err)
		}
		return pages * os.Getpagesize() >> 20
	}
	used := make([][]byte, 8)
	for k := range used {
		used[k] = make([]byte, 8<<20)
		for i := range used[k] {
			used[k][i] = 1
		}
	}
	runtime.KeepAlive(used)
	used = nil
	runtime.GC()
	before := resident()
	room := newRoom()
	if more := resident() - before; more > 100 {
		t.Errorf("room takes %d MB", more)
	}
	runtime.KeepAlive(room)
}
