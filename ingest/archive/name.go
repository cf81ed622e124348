package archive

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// SpellName gives the one spelling of a file's name, which is text whatever bytes
// the name has: a byte that is no UTF-8 as \xNN, and a backslash as two. Other
// names are their own spelling.
func SpellName(name string) string {
	if utf8.ValidString(name) && !strings.Contains(name, `\`) {
		return name
	}
	var b strings.Builder
	for len(name) > 0 {
		r, n := utf8.DecodeRuneInString(name)
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, `\x%02x`, name[0])
		case r == '\\':
			b.WriteString(`\\`)
		default:
			b.WriteString(name[:n])
		}
		name = name[n:]
	}
	return b.String()
}
