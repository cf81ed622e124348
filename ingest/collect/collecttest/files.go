package collecttest

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Files is a counterpart's folder of files: each offer is one more.
type Files struct {
	Dir  string
	n    int
	last string
}

// padded is how often each row stands in its file, so that a connection that is
// cut after CutAt bytes is cut in the middle of a file. The same row again adds
// nothing.
const (
	padded = 60
	CutAt  = 20_000
)

// Text is an offer as a file.
func Text(rows []Reading) string {
	head, body, _ := strings.Cut(Plain(rows), "\n")
	return head + "\n" + strings.Repeat(body, padded)
}

// Offer writes a file.
func (f *Files) Offer(t *testing.T, r ...Reading) {
	f.n++
	f.last = fmt.Sprintf("bay-%d.csv", f.n)
	f.write(t, f.last, []byte(Text(r)))
}

// Again writes the last one under another name.
func (f *Files) Again(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(f.Dir, f.last))
	if err != nil {
		t.Fatal(err)
	}
	f.write(t, "copy-of-"+f.last, data)
}

const huge = "huge.csv"

// Huge writes a file that is larger than 100 kB, and takes it away again.
func (f *Files) Huge(t *testing.T, there bool) {
	if there {
		f.write(t, huge, bytes.Repeat([]byte("x"), 150_000))
	} else if err := os.Remove(filepath.Join(f.Dir, huge)); err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
}

func (f *Files) write(t *testing.T, name string, data []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(f.Dir, name), data, 0o644); err != nil {
		t.Fatal(err)
	}
}
