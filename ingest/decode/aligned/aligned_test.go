package aligned

import (
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wane/ingest/decode/emit"
	"wane/ingest/reading"
)

type rejects struct{ n int }

func (k *rejects) Readings(*reading.Batch) error { return nil }
func (k *rejects) Reject(reading.Reject) error   { k.n++; return nil }

func TestCut(t *testing.T) {
	for _, c := range []struct {
		line   string
		starts []int
		want   []string
	}{
		{"  2026 1\t 13   812.5  ", nil, []string{"2026", "1", "13", "812.5"}},
		{`"bay 1"  "" 8"5 "open`, nil, []string{"bay 1", "", `8"5`, `"open`}},
		{"   \t ", nil, nil},
		{"13.01.  812.5     OK", []int{1, 9, 15}, []string{"13.01.", "812.5", "OK"}},
		{"13.01.          OK", []int{1, 9, 15}, []string{"13.01.", "", "OK"}},
		{"Größe   812.5", []int{1, 9, 15}, []string{"Größe", "812.5", ""}},
		{"13", []int{1, 9, 15}, []string{"13", "", ""}},
	} {
		if diff := cmp.Diff(c.want, Cut(c.line, c.starts)); diff != "" {
			t.Errorf("%q: %s", c.line, diff)
		}
	}
}

func TestStarts(t *testing.T) {
	lines := []string{"13.01. 10:00   812.5     C", "13.01. 10:15             C", "13.01. 10:30  1012.5  21 C"}
	if diff := cmp.Diff([]int{1, 8, 15, 23, 26}, Starts(lines)); diff != "" {
		t.Error(diff)
	}
	if got := Starts([]string{"a\tb"}); got != nil {
		t.Error(got)
	}
}

// TestWideNumberIsNotCut: one digit more than all before would lose the first.
func TestWideNumberIsNotCut(t *testing.T) {
	for line, want := range map[string]int{"13.01.   812.5": 0, "13.01. 1012.5": 0, "13.01.10012.5": 8,
		"Größe 810012.5": 8, "x": 0, "": 0} {
		if got := across(line, []int{1, 8, 20}); got != want {
			t.Errorf("%q: %d, want %d", line, got, want)
		}
	}
}

func TestLongLineIsAReject(t *testing.T) {
	k := &rejects{}
	e := emit.New(k, time.Time{})
	defer e.Leave()
	r := New(io.MultiReader(strings.NewReader("a b\n"), io.LimitReader(endless{}, 40<<20), strings.NewReader("\nc d\n")),
		nil, e)
	n := 0
	for {
		_, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		n++
	}
	if n != 3 || k.n != 1 {
		t.Errorf("%d lines, %d rejects", n, k.n)
	}
}

type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'x'
	}
	return len(p), nil
}

func FuzzCut(f *testing.F) {
	f.Add("a  b \"c d\"", 1, 4)
	f.Fuzz(func(t *testing.T, line string, a, b int) {
		Cut(line, nil)
		if a >= 1 && b > a {
			if got := Cut(line, []int{a, b}); got != nil && len(got) != 2 {
				t.Fatal(got)
			}
		}
		Starts([]string{line, line})
	})
}
