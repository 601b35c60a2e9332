//go:build !gocv_specific_modules

package cv

// Without the tag gocv compiles parts that Debian's OpenCV does not have and
// fails with pages of C++ errors. This line fails first, with one sentence.
const _ int = "OpenCV needs a tag: go build -tags gocv_specific_modules ./..."
