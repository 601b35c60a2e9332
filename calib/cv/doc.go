//go:build gocv_specific_modules

// Package cv is the only part of jigloupe that touches OpenCV. Every error and
// every empty result is checked here, since OpenCV's silence looks like success;
// no gocv.Mat leaves a function of this package.
package cv
