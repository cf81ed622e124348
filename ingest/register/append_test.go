package register

import (
	"strings"
	"testing"
)

func TestAppend(t *testing.T) {
	for _, c := range []struct{ name, old, want string }{
		{"comment above the header", "# one, \"two\"\n\nat,what\n", "# one, \"two\"\n\nat,what\n2025-01-01,note\n"},
		{"no line end", "at,what", "at,what\n2025-01-01,note\n"},
		{"another order, spaces, a mark", "\xef\xbb\xbfwhat , at\n", "\xef\xbb\xbfwhat , at\nnote,2025-01-01\n"},
		{"a column that is not filled", "at,id,what\n", "at,id,what\n2025-01-01,,note\n"},
	} {
		next, added, err := Append("t.csv", []byte(c.old), []map[string]string{{"at": "2025-01-01", "what": "note"}})
		if err != nil || string(next) != c.want || !strings.HasSuffix(c.want, string(added)) {
			t.Errorf("%s: %q, %q, %v", c.name, next, added, err)
		}
	}
	for _, old := range []string{"", "# nothing else\n", "\n\n"} {
		if _, _, err := Append("t.csv", []byte(old), nil); err == nil ||
			!strings.Contains(err.Error(), "t.csv has no header") {
			t.Errorf("%q: %v", old, err)
		}
	}
}

// TestAppendedCellIsNoComment: a first cell that begins with # would make the
// row a comment, and what was logged would be gone.
func TestAppendedCellIsNoComment(t *testing.T) {
	next, _, err := Append("t.csv", []byte("note,at\n"),
		[]map[string]string{{"note": "#3 cleaned", "at": "2025-01-01"}, {"note": `#3 "A", B`, "at": "x"}})
	if err != nil {
		t.Fatal(err)
	}
	got := read("t.csv", next, []string{"note", "at"})
	if len(got.found) > 0 || len(got.rows) != 2 || got.rows[0].get("note") != "#3 cleaned" ||
		got.rows[1].get("note") != `#3 "A", B` {
		t.Errorf("%s: %v", next, got.found)
	}
}
