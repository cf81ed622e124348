package report

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
)

// fileName gives a page's file name for a name from the register. A plain name
// is kept. Any other is made plain and gets a mark of its own after a tilde,
// which no plain name holds, so that two names never share a file, also where
// the file system takes capitals and small letters for the same.
func fileName(id string, plainTaken func(folded string) bool) string {
	if plain(id) && !plainTaken(strings.ToLower(id)) {
		return id + ".html"
	}
	var b strings.Builder
	for _, r := range id {
		switch {
		case b.Len() >= 40:
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-':
			b.WriteRune(r)
		default:
			b.WriteByte('_')
		}
	}
	sum := sha256.Sum256([]byte(id))
	return strings.TrimLeft(b.String(), "-") + "~" + hex.EncodeToString(sum[:8]) + ".html"
}

// plain says whether a name can be a file's name on any system as it is.
func plain(id string) bool {
	if id == "" || len(id) > 60 || id[0] == '-' || reserved[strings.ToLower(id)] {
		return false
	}
	for _, r := range id {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_') {
			return false
		}
	}
	return true
}

// reserved are names that one widespread system gives to devices.
var reserved = func() map[string]bool {
	out := map[string]bool{"con": true, "prn": true, "aux": true, "nul": true}
	for _, d := range "0123456789" {
		out["com"+string(d)], out["lpt"+string(d)] = true, true
	}
	return out
}()

// fileNames gives every fixture its page, by the fixture's name. Where two
// plain names differ in capitals only, neither is kept plain.
func fileNames(ids []string) map[string]string {
	folded := map[string]int{}
	for _, id := range ids {
		folded[strings.ToLower(id)]++
	}
	out := map[string]string{}
	for _, id := range ids {
		out[id] = fileName(id, func(f string) bool { return folded[f] > 1 })
	}
	return out
}
