package source

import (
	"path"
	"strings"
)

// Match tells whether the description's file patterns fit a file name. Only
// the base name counts, upper and lower case are alike, and a packed file is
// tried with and without its last suffix (.gz, .zip).
func (d *Description) Match(filename string) bool {
	base := strings.ToLower(path.Base(strings.ReplaceAll(filename, `\`, "/")))
	names := []string{base}
	for _, suffix := range []string{".gz", ".zip"} {
		if n, ok := strings.CutSuffix(base, suffix); ok {
			names = append(names, n)
		}
	}
	for _, p := range d.Files {
		for _, n := range names {
			if ok, err := path.Match(strings.ToLower(p), n); ok && err == nil {
				return true
			}
		}
	}
	return false
}

// Matching gives the descriptions that fit a file name. More than one is for a
// person to mend: neither may be picked by chance.
func Matching(all []*Description, filename string) []*Description {
	var fit []*Description
	for _, d := range all {
		if d.Match(filename) {
			fit = append(fit, d)
		}
	}
	return fit
}
