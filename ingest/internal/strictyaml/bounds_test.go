package strictyaml

import (
	"strings"
	"testing"
)

// What nobody writes is refused before the parser nests as deep as its input:
// 100,000 brackets took 15 GB.
func TestBounds(t *testing.T) {
	for what, text := range map[string]string{
		"brackets":   "a: " + strings.Repeat("[", 100_000),
		"braces":     "a: " + strings.Repeat("{a: ", 50_000),
		"over lines": strings.Repeat("[\n", 50_000),
		"dashes":     strings.Repeat("- ", 100_000) + "x",
		"indents":    indented(2_000),
		"size":       "a: " + strings.Repeat("x", 2<<20),
		"aliases":    strings.Repeat("- *a\n", 20_000),
	} {
		var into struct {
			A string `yaml:"a"`
		}
		_, found := Decode("sources/x.yaml", []byte(text), &into)
		if len(found) != 1 || found[0].File != "sources/x.yaml" || found[0].Do == "" {
			t.Errorf("%s: %.300v", what, found)
		}
	}
	var into struct {
		A []string `yaml:"a"`
	}
	text := "# [[[ said in words\na: [x, 'y]]]]', \"z{\"]\n" + strings.Repeat("# * &\n", 100)
	if _, found := Decode("x.yaml", []byte(text), &into); len(found) > 0 || len(into.A) != 3 {
		t.Errorf("%v %v", found, into)
	}
}

func indented(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return b.String()
}
