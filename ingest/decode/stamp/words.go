package stamp

import (
	"bytes"
	"strings"
	"unicode"
	"unicode/utf8"
)

// word executes a step of a pattern whose length only the text tells.
func (p *Parser) word(i int, b []byte, pos int, f *fields) (int, bool) {
	ops := p.format.ops
	last := i+1 == len(ops)
	rest := b[pos:]
	switch ops[i].kind {
	case opMonthName:
		n := letters(rest)
		if f.month = monthOf(rest[:n]); f.month == 0 {
			return pos, false
		}
		return pos + n + dot(rest[n:], ops, i), true
	case opWeekday:
		n := letters(rest)
		return pos + n + dot(rest[n:], ops, i), n > 0
	case opAmPm:
		n, half := amPm(rest)
		f.half = half
		return pos + n, n > 0
	case opOffset:
		n := len(rest)
		if !last { // another part follows, as the end of an interval
			n = offsetRun(rest)
		}
		off, ok := offset(rest[:n])
		if !ok && ops[i].lit == 'z' {
			off, ok = zoneWord(string(rest[:n]))
		}
		f.offset = off
		return pos + n, ok
	}
	if last {
		return len(b), true
	}
	k := bytes.IndexByte(rest, ops[i+1].lit) // the one step that may follow is a literal
	return pos + k, k >= 0
}

// blanks counts the bytes of the blanks that b begins with, no-break ones too.
func blanks(b []byte) int {
	n := 0
	for n < len(b) {
		switch rest := b[n:]; {
		case rest[0] == ' ':
			n++
		case rest[0] == 0xc2 && len(rest) > 1 && rest[1] == 0xa0: // U+00A0
			n += 2
		case rest[0] == 0xe2 && len(rest) > 2 && rest[1] == 0x80 && rest[2] == 0xaf: // U+202F
			n += 3
		default:
			return n
		}
	}
	return n
}

// letters counts the bytes of the letters that b begins with.
func letters(b []byte) int {
	n := 0
	for n < len(b) {
		r, size := utf8.DecodeRune(b[n:])
		if !unicode.IsLetter(r) {
			break
		}
		n += size
	}
	return n
}

// dot is 1 where a point ends an abbreviation that the pattern does not name.
func dot(rest []byte, ops []op, i int) int {
	if len(rest) > 0 && rest[0] == '.' && !(i+1 < len(ops) && ops[i+1].kind == opLiteral && ops[i+1].lit == '.') {
		return 1
	}
	return 0
}

// monthWords are the beginnings of month names, three letters each, in Bulgarian, Danish,
// Dutch, Finnish, French, German, Greek, Hungarian, Italian, Norwegian, Polish, Portuguese,
// Romanian, Russian, Spanish, Swedish and Turkish where they are other than the English ones (from memory of the Unicode CLDR).
// Listopad is November in Polish and October in Croatian, so it is none; lipiec is July, lipanj June.
var monthWords = map[string]int{
	"ene": 1, "gen": 1, "fév": 2, "fev": 2, "mär": 3, "mrz": 3, "mrt": 3, "maa": 3, "avr": 4, "abr": 4, "mai": 5, "mei": 5,
	"maj": 5, "mag": 5,
	"oca": 1, "şub": 2, "nis": 4, "haz": 6, "tem": 7, "ağu": 8, "eyl": 9, "eki": 10, "kas": 11, "ara": 12,
	"tam": 1, "hel": 2, "huh": 4, "tou": 5, "kes": 6, "hei": 7, "elo": 8, "syy": 9, "lok": 10, "jou": 12,
	"ian": 1, "iun": 6, "iul": 7, "noi": 11, "már": 3, "ápr": 4, "máj": 5, "jún": 6, "júl": 7, "sze": 9,
	"янв": 1, "яну": 1, "фев": 2, "мар": 3, "апр": 4, "май": 5, "мая": 5, "июн": 6, "юни": 6, "июл": 7, "юли": 7, "авг": 8,
	"сен": 9, "сеп": 9, "окт": 10, "ноя": 11,
	"ное": 11, "дек": 12, "ιαν": 1, "φεβ": 2, "μαρ": 3, "μάρ": 3, "απρ": 4, "μαΐ": 5, "μάι": 5, "μαι": 5, "αυγ": 8,
	"σεπ": 9, "οκτ": 10, "νοε": 11, "δεκ": 12,
	"sty": 1, "lut": 2, "kwi": 4, "cze": 6, "sie": 8, "wrz": 9, "paź": 10, "gru": 12,
	"giu": 6, "lug": 7, "aoû": 8, "aou": 8, "ago": 8, "set": 9, "okt": 10, "ott": 10, "out": 10, "dez": 12, "dic": 12,
	"déc": 12, "des": 12,
}

func monthOf(b []byte) int {
	if len(b) < 3 {
		return 0
	}
	word := strings.ToLower(string(b))
	if strings.HasPrefix(word, "marras") { // November in Finnish
		return 11
	}
	const names = "janfebmaraprmayjunjulaugsepoctnovdec"
	k := [3]byte{b[0] | 0x20, b[1] | 0x20, b[2] | 0x20}
	for i := 0; i < 12; i++ {
		if names[3*i] == k[0] && names[3*i+1] == k[1] && names[3*i+2] == k[2] {
			return i + 1
		}
	}
	switch {
	case strings.HasPrefix(word, "juin"):
		return 6
	case strings.HasPrefix(word, "juil"), strings.HasPrefix(word, "lipc"), strings.HasPrefix(word, "lipi"):
		return 7
	}
	if r := []rune(word); len(r) >= 3 {
		return monthWords[string(r[:3])]
	}
	return 0
}

// halves are the words for the halves of the day (from memory of the Unicode
// CLDR), the longer one before one that it begins with.
var halves = [2][]string{
	{"a. m.", "a.m.", "am", "vorm.", "vorm", "f.m.", "fm", "π.μ.", "πμ", "sa", "ap.", "de.", "ص", "dop.", "dop", "öö",
		"上午", "午前", "오전"},
	{"p. m.", "p.m.", "pm", "nachm.", "nachm", "e.m.", "em", "μ.μ.", "μμ", "ch", "ip.", "du.", "م", "odp.", "odp", "ös",
		"下午", "午後", "오후"},
}

// amPm reads AM, PM, a lone a or p, and their like; half is 1 before noon, 2 after.
func amPm(b []byte) (n int, half int8) {
	if len(b) > 1 && (b[1]|0x20 == 'm') { // nearly always
		switch b[0] | 0x20 {
		case 'a':
			return 2, 1
		case 'p':
			return 2, 2
		}
	}
	text := strings.ToLower(strings.ReplaceAll(strings.ReplaceAll(string(b[:min(len(b), 24)]), "\u00a0", " "), "\u202f",
		" "))
	for k, words := range halves {
		for _, w := range words {
			if !strings.HasPrefix(text, w) {
				continue
			}
			n := 0 // bytes of as many letters as the word has, whatever blank was written
			for range utf8.RuneCountInString(w) {
				_, size := utf8.DecodeRune(b[n:])
				n += size
			}
			return n, int8(k + 1)
		}
	}
	if len(b) > 0 && (len(b) == 1 || b[1] < 'A') {
		switch b[0] | 0x20 {
		case 'a':
			return 1, 1
		case 'p':
			return 1, 2
		}
	}
	return 0, 0
}
