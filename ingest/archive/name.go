package archive

import (
	"fmt"
	"strconv"
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

// UnspellName is the reverse of SpellName; ok is false for what is no spelling.
func UnspellName(spelled string) (name string, ok bool) {
	var b strings.Builder
	for {
		before, rest, more := strings.Cut(spelled, `\`)
		b.WriteString(before)
		if !more {
			return b.String(), true
		}
		switch {
		case strings.HasPrefix(rest, `\`):
			b.WriteByte('\\')
			spelled = rest[1:]
		case len(rest) >= 3 && rest[0] == 'x':
			c, err := strconv.ParseUint(rest[1:3], 16, 8)
			if err != nil {
				return "", false
			}
			b.WriteByte(byte(c))
			spelled = rest[3:]
		default:
			return "", false
		}
	}
}
