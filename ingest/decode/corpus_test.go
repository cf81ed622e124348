package decode

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wane/ingest/reading"
	"wane/ingest/source"
)

// update writes what the decoders make of the corpus as the new expectation. It
// is for new files; the result is to be read before it is kept.
var update = flag.Bool("update", false, "rewrite the expectations of testdata/logger-files")

const corpus = "../../testdata/logger-files"

// corpusNow is the run's time of all corpus tests.
var corpusNow = time.Date(2026, 12, 31, 0, 0, 0, 0, time.UTC)

// transcript is a sink that writes the expectation format.
type transcript struct {
	readings, rejects strings.Builder
}

func (l *transcript) Readings(b *reading.Batch) error {
	for i := range b.Len() {
		fmt.Fprintf(&l.readings, "%s %q %s @%d\n", time.UnixMicro(b.Time[i]).UTC().Format(time.RFC3339Nano),
			b.Series[b.Of[i]].String(), printed(b.Value[i]), b.Line[i])
	}
	return nil
}

func (l *transcript) Reject(r reading.Reject) error {
	fmt.Fprintf(&l.rejects, "! %d %q %s %.60q: %s\n", r.Line, r.Column, r.Code, r.Text, r.Reason)
	return nil
}

// printed writes a value with the digits it came with.
func printed(v reading.Value) string {
	s := fmt.Sprintf("%0*d", int(v.Digits)+1, max(v.Mantissa, -v.Mantissa))
	if v.Digits > 0 {
		s = s[:len(s)-int(v.Digits)] + "." + s[len(s)-int(v.Digits):]
	}
	if v.Mantissa < 0 {
		s = "-" + s
	}
	return s
}

// TestCorpus decodes every file of testdata/logger-files and holds the result
// against NAME.want.txt.
func TestCorpus(t *testing.T) {
	files := corpusFiles(t)
	if len(files) < 40 {
		t.Fatalf("only %d files", len(files))
	}
	for _, name := range files {
		t.Run(name, func(t *testing.T) {
			f, err := os.Open(filepath.Join(corpus, name))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			var l transcript
			var c Counts
			if d := corpusDescription(t, name); d != nil {
				if !d.Match(name) {
					t.Errorf("the description does not match the file's name")
				}
				c, err = File(context.Background(), f, name, d, &l, Now(corpusNow))
			} else {
				c, err = Plain(context.Background(), f, name, &l, Now(corpusNow))
			}
			got := fmt.Sprintf("rows %d, rejects %d, blank %d, out of order %d, ambiguous %d\n", c.Rows, c.Rejects, c.Blank,
				c.OutOfOrder, c.Ambiguous)
			if err != nil {
				got += "error: " + err.Error() + "\n"
			}
			got += l.readings.String() + l.rejects.String()
			path := filepath.Join(corpus, name+".want.txt")
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// TestCorpusInSmallPieces decodes the corpus again, a few bytes at a time and
// without seeking: where the blocks end must not matter.
func TestCorpusInSmallPieces(t *testing.T) {
	for _, name := range corpusFiles(t) {
		data, err := os.ReadFile(filepath.Join(corpus, name))
		if err != nil {
			t.Fatal(err)
		}
		run := func(r io.Reader) string {
			var l transcript
			var c Counts
			var err error
			if d := corpusDescription(t, name); d != nil {
				c, err = File(context.Background(), r, name, d, &l)
			} else {
				c, err = Plain(context.Background(), r, name, &l)
			}
			return fmt.Sprint(c, err, l.readings.String(), l.rejects.String())
		}
		if diff := cmp.Diff(run(bytes.NewReader(data)), run(&dribble{data: data})); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// dribble gives its bytes one to seven at a time.
type dribble struct {
	data []byte
	n    int
}

func (d *dribble) Read(p []byte) (int, error) {
	if len(d.data) == 0 {
		return 0, io.EOF
	}
	d.n = d.n%7 + 1
	n := copy(p, d.data[:min(d.n, len(d.data))])
	d.data = d.data[n:]
	if len(d.data) == 0 {
		return n, io.EOF
	}
	return n, nil
}

func corpusFiles(t testing.TB) []string {
	t.Helper()
	entries, err := os.ReadDir(corpus)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		n := e.Name()
		if strings.HasSuffix(n, ".yaml") || strings.HasSuffix(n, ".want.txt") || n == "README.md" || n == "make.go" {
			continue
		}
		names = append(names, n)
	}
	return names
}

// corpusDescription gives the description beside a file, nil for the plain forms.
func corpusDescription(t testing.TB, name string) *source.Description {
	t.Helper()
	stem, _, _ := strings.Cut(name, ".")
	data, err := os.ReadFile(filepath.Join(corpus, stem+".yaml"))
	if os.IsNotExist(err) {
		return nil
	}
	if err != nil {
		t.Fatal(err)
	}
	d, err := source.Load(data, stem+".yaml")
	if err != nil {
		t.Fatal(err)
	}
	return d
}
