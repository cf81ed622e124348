package archive

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"
)

// Every name has one spelling, which is text and from which the name comes back.
func FuzzSpellName(f *testing.F) {
	for _, s := range []string{"a.csv", "caf\xe9.csv", `back\slash`, `\xe9`, "\xff\\", "é", "\x00", "�", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, name string) {
		s := SpellName(name)
		if back, ok := unspellName(s); !ok || back != name || !utf8.ValidString(s) {
			t.Errorf("%q is spelled %q, which is %q (%v)", name, s, back, ok)
		}
	})
}

// By hand.
func TestSpellName(t *testing.T) {
	for name, want := range map[string]string{"caf\xe9.csv": `caf\xe9.csv`, `a\b`: `a\\b`, "é.csv": "é.csv"} {
		if got := SpellName(name); got != want {
			t.Errorf("%q is spelled %q, want %q", name, got, want)
		}
	}
	for _, bad := range []string{`\`, `\y`, `\x1`, `\xzz`} {
		if got, ok := unspellName(bad); ok {
			t.Errorf("%q is read as %q", bad, got)
		}
	}
}

// A file whose name is no text has the same name in its sidecar and in the
// table, so that a rebuild changes no byte, and is known when it comes again.
func TestNameThatIsNoText(t *testing.T) {
	dir, inbox := scene(t)
	const text = "s1 c1 1795608000000000 1 0\n"
	put := func() {
		if err := os.WriteFile(filepath.Join(inbox, "caf\xe9.csv"), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put()
	if err := attempt(dir, inbox, hasty{}); err != nil {
		t.Fatal(err)
	}
	a, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	files, err := a.Files()
	if err != nil || files[len(files)-1].Name != `caf\xe9.csv` {
		t.Fatalf("%+v, %v", files, err)
	}
	want, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	if f := findings(t, dir); f != nil {
		t.Error(f)
	}
	l := mustLock(t, dir)
	if _, err := Rebuild(t.Context(), l, RebuildOptions{Decode: decodeLines}); err != nil {
		t.Fatal(err)
	}
	l.Release()
	put()
	if err := attempt(dir, inbox, hasty{}); err != nil {
		t.Fatal(err)
	}
	got, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	if d := differ(want, got); d != nil {
		t.Error(d)
	}
}

// unspellName is the reverse of SpellName; ok is false for what is no spelling.
func unspellName(spelled string) (name string, ok bool) {
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
