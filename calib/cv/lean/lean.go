// Package lean spares a program that imports it OpenCV's library of picture
// formats, which it never uses and which brings 118 others with it: loading them
// took four fifths of the time to start. gocv refers to it wherever any of gocv is
// used; with what gocv refers to defined here, the linker leaves the library out.
//
// A program that is to read pictures through gocv must not import this.
package lean

// #cgo pkg-config: opencv4
// #cgo CXXFLAGS: --std=c++11
import "C"
