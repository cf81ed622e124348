package archive

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wane/ingest/reading"
)

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// line is a reading as the test's own little files hold it: "sensor channel
// micros mantissa digits", or "bad" for a line that is rejected.
func parseLines(text string, s reading.Sink) (blank int64, err error) {
	b := &reading.Batch{}
	index := map[reading.Series]int32{}
	for n, l := range strings.Split(strings.TrimSuffix(text, "\n"), "\n") {
		var ser reading.Series
		var at, m int64
		var d uint8
		if l == "blank" {
			blank++
			continue
		}
		if _, err := fmt.Sscan(l, &ser.Sensor, &ser.Channel, &at, &m, &d); err != nil {
			if err := s.Reject(reading.Reject{Line: n + 1, Code: "bad-line", Reason: "not a reading", Text: l}); err != nil {
				return blank, err
			}
			continue
		}
		i, ok := index[ser]
		if !ok {
			i = int32(len(b.Series))
			index[ser] = i
			b.Series = append(b.Series, ser)
		}
		b.Add(i, at, reading.Value{Mantissa: m, Digits: d}, int32(n+1))
		if b.Len() == 100 {
			if err := s.Readings(b); err != nil {
				return blank, err
			}
			b.Reset()
		}
	}
	return blank, s.Readings(b)
}

// importAll imports every file of a folder, in order of name.
func importAll(l *Lock, opt Options, inbox string) (*Result, error) {
	ctx := context.Background()
	t, err := Begin(l, opt)
	if err != nil {
		return nil, err
	}
	defer t.Discard()
	names, err := filepath.Glob(filepath.Join(inbox, "*"))
	if err != nil {
		return nil, err
	}
	sort.Strings(names)
	seen := map[string]bool{}
	for i, path := range names {
		k, err := t.Keep(ctx, Input{Path: path, Name: filepath.Base(path), Remove: true})
		if err != nil {
			return nil, err
		}
		if k.Already != nil {
			continue
		}
		if seen[k.SHA256] {
			t.Same(k)
			continue
		}
		seen[k.SHA256] = true
		s, err := t.Sink(i, k)
		if err != nil {
			return nil, err
		}
		b, err := os.ReadFile(k.path)
		if err != nil {
			return nil, err
		}
		blank, err := parseLines(string(b), s)
		if err != nil {
			return nil, err
		}
		if err := s.Done(blank); err != nil {
			return nil, err
		}
	}
	return t.Commit(ctx)
}

func mustLock(t interface { // testing.TB or rapid.T
	Helper()
	Fatal(...any)
}, dir string) *Lock {
	t.Helper()
	l, err := acquire(dir, Holder{PID: os.Getpid(), Start: noon, What: "test"}, hasty{})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// tree reads every file of a folder.
func tree(dir string) (map[string]string, error) {
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		if rel != lockName {
			out[rel] = string(b)
		}
		return err
	})
	return out, err
}

func differ(a, b map[string]string) (out []string) {
	for k := range a {
		if b[k] != a[k] {
			out = append(out, fmt.Sprintf("%s: %d and %d bytes", k, len(a[k]), len(b[k])))
		}
	}
	for k := range b {
		if _, ok := a[k]; !ok {
			out = append(out, k+" is only in the second")
		}
	}
	sort.Strings(out)
	return out
}

// readingsOnly keeps the parts of readings, which alone must not depend on how
// the readings came.
func readingsOnly(m map[string]string) map[string]string {
	out := map[string]string{}
	for k, v := range m {
		if strings.HasPrefix(k, Readings+"/") {
			out[k] = v
		}
	}
	return out
}

// genLine draws a line from a world so small that duplicates, conflicts,
// changes of scale and of month are frequent.
func genLine(t *rapid.T) string {
	switch rapid.IntRange(0, 19).Draw(t, "kind") {
	case 0:
		return fmt.Sprint("bad ", rapid.IntRange(0, 3).Draw(t, "bad"))
	case 1:
		return "blank"
	case 2:
		return fmt.Sprintf("s1 c1 %d 1 0", noon.UnixMicro()+int64(1000*time.Hour/time.Microsecond))
	case 3:
		return fmt.Sprintf("s1 c1 %d 1000000000000 2", noon.UnixMicro())
	}
	days := rapid.SampledFrom([]int64{0, 0, 0, 1, 1, 2, 24, 25, 26, 40, 80}).Draw(t, "days ago")
	at := noon.UnixMicro() - days*dayMicros + int64(rapid.IntRange(-3, 3).Draw(t, "hour"))*3600*1e6
	return fmt.Sprintf("s%d c%d %d %d %d", rapid.IntRange(1, 3).Draw(t, "s"), rapid.IntRange(1, 2).Draw(t, "c"), at,
		rapid.Int64Range(-3, 3).Draw(t, "m"), rapid.SampledFrom([]int{0, 0, 1, 1, 2}).Draw(t, "digits"))
}

// The law, and that the readings stored depend on the set of readings alone.
func TestAnyOrderAnySplit(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		lines := rapid.SliceOfN(rapid.Custom(genLine), 1, 40).Draw(rt, "lines")
		base, err := os.MkdirTemp(t.TempDir(), "")
		if err != nil {
			rt.Fatal(err)
		}
		plain := ingestAs(rt, filepath.Join(base, "a"), [][]string{lines}, 1<<30)
		shuffled := rapid.Permutation(lines).Draw(rt, "shuffled")
		again := rapid.SliceOfN(rapid.SampledFrom(lines), 0, 20).Draw(rt, "again")
		shuffled = append(shuffled, again...)
		var nights [][]string
		for len(shuffled) > 0 {
			n := rapid.IntRange(1, len(shuffled)).Draw(rt, "night")
			nights = append(nights, shuffled[:n])
			shuffled = shuffled[n:]
		}
		other := ingestAs(rt, filepath.Join(base, "b"), nights, 1)
		if again := rebuilt(rt, filepath.Join(base, "b")); differ(other, again) != nil {
			rt.Fatalf("rebuilt from the originals: %v", differ(other, again))
		}
		if d := differ(readingsOnly(plain), readingsOnly(other)); d != nil {
			rt.Fatalf("the same readings in %d imports gave other parts: %v", len(nights), d)
		}
	})
}

// ingestAs imports each night's lines, cut into files, and checks the law.
func ingestAs(t *rapid.T, dir string, nights [][]string, memory int64) map[string]string {
	inbox := dir + "-inbox"
	if err := os.MkdirAll(inbox, 0o755); err != nil {
		t.Fatal(err)
	}
	l := mustLock(t, dir)
	defer l.Release()
	want := map[string]bool{}
	for _, lines := range nights {
		for i := 0; len(lines) > 0; i++ {
			n := rapid.IntRange(1, len(lines)).Draw(t, "file")
			if err := os.WriteFile(filepath.Join(inbox, fmt.Sprintf("f%03d", i)), []byte(strings.Join(lines[:n], "\n")+"\n"),
				0o644); err != nil {
				t.Fatal(err)
			}
			lines = lines[n:]
		}
		res, err := importAll(l, Options{Now: noon, Memory: memory}, inbox)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range res.Files {
			if !f.Lawful() {
				t.Fatalf("%+v", f)
			}
		}
		if left, _ := os.ReadDir(inbox); len(left) != 0 || len(res.Left) != 0 {
			t.Fatalf("%v is still in the inbox", left)
		}
	}
	for _, lines := range nights {
		for _, line := range lines {
			var s, c string
			var at, m, d int64
			if _, err := fmt.Sscan(line, &s, &c, &at, &m, &d); err == nil && m < 1e10 && at < noon.UnixMicro()+1e12 {
				want[fmt.Sprint(s, c, at, m*pow10[2-d])] = true
			}
		}
	}
	a, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]bool{}
	rows := int64(0)
	for _, p := range a.Parts(Readings) {
		n := int64(0)
		err := a.ReadReadings(p, func(r *Run) error {
			for i := range r.Time {
				got[fmt.Sprint(r.Series.Sensor, r.Series.Channel, r.Time[i], r.Mantissa[i]*pow10[2-r.Scale])] = true
				n++
			}
			return nil
		})
		if err != nil || n != p.Rows {
			t.Fatalf("%s: %d rows of %d: %v", p.Path, n, p.Rows, err)
		}
		rows += n
	}
	if len(got) != len(want) || rows != int64(len(want)) {
		t.Fatalf("%d readings stored, %d of them distinct, want %d", rows, len(got), len(want))
	}
	for k := range want {
		if !got[k] {
			t.Fatalf("%s is missing", k)
		}
	}
	all, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// rebuilt leaves only the originals and makes all else anew.
func rebuilt(t *rapid.T, dir string) map[string]string {
	names, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range names {
		if d.Name() != originalsDir {
			if err := os.RemoveAll(filepath.Join(dir, d.Name())); err != nil {
				t.Fatal(err)
			}
		}
	}
	l := mustLock(t, dir)
	defer l.Release()
	if _, err := Rebuild(context.Background(), l, RebuildOptions{Decode: decodeLines}); err != nil {
		t.Fatal(err)
	}
	all, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	return all
}
