package inspect

import (
	"slices"
	"strings"
)

// BaseOf is what the column base of a batch sheet means: none, white or black; else
// what it says, in small letters.
func BaseOf(said string) string {
	said = strings.ToLower(strings.TrimSpace(said))
	switch {
	case strings.Contains(said, "white"):
		return "white"
	case strings.Contains(said, "black"):
		return "black"
	case slices.Contains([]string{"", "none", "no", "bare", "metal", "bare metal", "lead", "-"}, said):
		return "none"
	}
	return said
}
