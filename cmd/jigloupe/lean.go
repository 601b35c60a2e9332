//go:build !imdecode

package main

import _ "jigloupe/calib/cv/lean"
