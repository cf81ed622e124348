package folder

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"wane/ingest/collect"
)

var day = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)

// shelf is a folder and a box at once.
type shelf struct {
	files  map[string]string
	times  map[string]time.Time
	listed map[string]int64 // sizes that the list gives in place of the true ones
	broken string           // cannot be opened
	got    []string
	state  []byte
}

func (s *shelf) List(context.Context) ([]Entry, error) {
	var out []Entry
	for _, name := range slices.Sorted(maps.Keys(s.files)) {
		size := int64(len(s.files[name]))
		if n, ok := s.listed[name]; ok {
			size = n
		}
		out = append(out, Entry{Name: name, Size: size, Time: s.times[name]})
	}
	return out, nil
}

func (s *shelf) Open(_ context.Context, name string) (io.ReadCloser, error) {
	if name == s.broken {
		return nil, errors.New("not allowed")
	}
	return io.NopCloser(strings.NewReader(s.files[name])), nil
}

func (s *shelf) Put(_ context.Context, name string, r io.Reader) (collect.Came, error) {
	b, err := io.ReadAll(r)
	if err == nil {
		s.got = append(s.got, name+"="+string(b))
	}
	return collect.Came{}, err
}

func (s *shelf) Append(context.Context, ...[]byte) error { return nil }
func (s *shelf) Recent() [][]byte                        { return nil }

func (s *shelf) Load(v any) (bool, error) {
	if s.state == nil {
		return false, nil
	}
	return true, json.NewDecoder(bytes.NewReader(s.state)).Decode(v)
}

func (s *shelf) Save(v any) (err error) {
	s.state, err = json.Marshal(v)
	return err
}

func (s *shelf) put(name, text string, at time.Time) {
	s.files[name], s.times[name] = text, at
}

// fetch fetches and gives what came.
func (s *shelf) fetch(t *testing.T, r Rule) (string, error) {
	t.Helper()
	s.got = nil
	err := Fetch(t.Context(), s, r, s)
	return strings.Join(s.got, " "), err
}

func newShelf() *shelf {
	return &shelf{files: map[string]string{}, times: map[string]time.Time{}, listed: map[string]int64{}}
}

func TestWhatIsNew(t *testing.T) {
	s, r := newShelf(), Rule{Names: []string{"BAY*.csv"}, Settled: 2 * time.Minute, Now: day}
	s.put("d/bay2.csv", "two", day.Add(-time.Hour))
	s.put("d/bay1.csv", "one", day.Add(-2*time.Hour))
	s.put("d/notes.txt", "x", day.Add(-time.Hour))
	s.put("d/bay3.csv.part", "x", day.Add(-time.Hour))
	s.put("d/bay4.csv", "fo", day.Add(-time.Minute)) // being written
	if got, err := s.fetch(t, r); err != nil || got != "d/bay1.csv=one d/bay2.csv=two" {
		t.Fatal(got, err)
	}
	r.Now = r.Now.Add(10 * time.Second)
	s.put("d/bay4.csv", "four", day.Add(5*time.Second)) // still
	if got, err := s.fetch(t, r); err != nil || got != "" {
		t.Fatal(got, err)
	}
	r.Now = r.Now.Add(20 * time.Second) // within the time, but the same as before
	if got, err := s.fetch(t, r); err != nil || got != "d/bay4.csv=four" {
		t.Fatal(got, err)
	}
	s.put("d/bay1.csv", "one more", day.Add(-time.Minute)) // a file that grew comes again, whole
	r.Now = day.Add(time.Hour)
	if got, err := s.fetch(t, r); err != nil || got != "d/bay1.csv=one more" {
		t.Fatal(got, err)
	}
	// A server whose clock is a day ahead is not waited for: twice the same is enough.
	s.put("d/bay5.csv", "five", day.Add(24*time.Hour))
	first, _ := s.fetch(t, r)
	second, err := s.fetch(t, r)
	if err != nil || first != "" || second != "d/bay5.csv=five" {
		t.Fatal(first, second, err)
	}
}

func TestFirstGoesBackSoFar(t *testing.T) {
	s, r := newShelf(), Rule{First: 24 * time.Hour, Now: day}
	s.put("old.csv", "old", day.AddDate(0, 0, -2))
	s.put("new.csv", "new", day.Add(-time.Hour))
	if got, err := s.fetch(t, r); err != nil || got != "new.csv=new" {
		t.Fatal(got, err)
	}
	// what turns up later is fetched, however old its date
	s.put("older.csv", "older", day.AddDate(-1, 0, 0))
	if got, err := s.fetch(t, r); err != nil || got != "older.csv=older" {
		t.Fatal(got, err)
	}
}

// A file that ends too early or too late is not kept; others are, and it comes
// when it is whole.
func TestOneFileHoldsUpNoOther(t *testing.T) {
	s, r := newShelf(), Rule{Now: day}
	s.put("a.csv", "aaaa", day.Add(-3*time.Hour))
	s.put("b.csv", "bbbb", day.Add(-2*time.Hour))
	s.put("c.csv", "cccc", day.Add(-time.Hour))
	s.put("d.csv", "dddd", day.Add(-time.Minute))
	s.listed["a.csv"], s.listed["b.csv"], s.broken = 5, 3, "c.csv"
	got, err := s.fetch(t, r)
	if got != "d.csv=dddd" || err == nil || strings.Count(err.Error(), errOther.Error()) != 2 ||
		!strings.Contains(err.Error(), "open c.csv: not allowed") {
		t.Fatal(got, err)
	}
	s.broken, s.listed = "", map[string]int64{}
	if got, err := s.fetch(t, r); err != nil || got != "a.csv=aaaa b.csv=bbbb c.csv=cccc" {
		t.Fatal(got, err)
	}
}
