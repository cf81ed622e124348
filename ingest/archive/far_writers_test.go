package archive

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// inboxOf makes an inbox with files of so many readings each.
func inboxOf(t *testing.T, sensor string, files int) string {
	t.Helper()
	dir := t.TempDir()
	for i := range files {
		var b strings.Builder
		for k := range 5 {
			fmt.Fprintf(&b, "%s c1 %d %d 2\n", sensor, noon.UnixMicro()-int64(i*100+k)*3600e6, 80000+i)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d", sensor, i)), []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// together is what one machine alone makes of all inboxes.
func together(t *testing.T, inboxes ...string) map[string]string {
	t.Helper()
	all, dir := t.TempDir(), filepath.Join(t.TempDir(), "archive")
	for _, in := range inboxes {
		if err := os.CopyFS(all, os.DirFS(in)); err != nil {
			t.Fatal(err)
		}
	}
	if err := attempt(dir, all, hasty{}); err != nil {
		t.Fatal(err)
	}
	got, err := tree(dir)
	if err != nil {
		t.Fatal(err)
	}
	return readingsOnly(got)
}

// Of two writers that began from the same archive the second loses, says so and
// loses nothing else: run again, it comes through.
func TestBucketOfTwoWriters(t *testing.T) {
	b := openShop(t).bucket(t)
	one, two := Place{filepath.Join(t.TempDir(), "one"), b}, Place{filepath.Join(t.TempDir(), "two"), b}
	in1, in2 := inboxOf(t, "s1", 3), inboxOf(t, "s2", 2)
	want := together(t, in1, in2)

	l, err := one.acquire(Holder{What: "test"}, hasty{})
	if err != nil {
		t.Fatal(err)
	}
	if err := attemptFarAt(two, in2, hasty{}, noon.Add(-time.Hour)); err != nil {
		t.Fatal(err)
	}
	if _, err := importAll(l, Options{Now: noon, Workers: 1}, in1); !errors.Is(err, ErrOvertaken) {
		t.Fatalf("the one that was overtaken says %v", err)
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
	if left, err := os.ReadDir(in1); err != nil || len(left) != 3 {
		t.Fatalf("what did not count is not in the inbox any more: %v, %v", left, err)
	}
	readable(t, "after the loss", b)
	if err := attemptFar(one, in1, hasty{}); err != nil {
		t.Fatal(err)
	}
	got := folderOf(t, one.Dir)
	if d := differ(want, readingsOnly(got)); d != nil {
		t.Errorf("the readings are others: %v", d)
	}
	wholeInBucket(t, "in the end", b, got)
	r, err := two.Check(context.Background(), Holder{What: "test"})
	if err != nil || len(r.Findings) > 0 || r.Files != 5 {
		t.Errorf("check elsewhere: %+v, %v", r, err)
	}
}

// Many machines at once, each again until it comes through.
func TestBucketOfManyWriters(t *testing.T) {
	b := openShop(t).bucket(t)
	var inboxes []string
	for i := range 4 {
		inboxes = append(inboxes, inboxOf(t, fmt.Sprint("s", i), 1+i%2))
	}
	want := together(t, inboxes...)
	var wg sync.WaitGroup
	lost := make([]int, len(inboxes))
	places := make([]Place, len(inboxes))
	for i, in := range inboxes {
		places[i] = Place{filepath.Join(t.TempDir(), "archive"), b}
		wg.Go(func() {
			for {
				switch err := attemptFarAt(places[i], in, hasty{}, noon.Add(time.Duration(i)*time.Second)); {
				case err == nil:
					return
				case !errors.Is(err, ErrOvertaken):
					t.Errorf("machine %d: %v", i, err)
					return
				}
				lost[i]++
			}
		})
	}
	wg.Wait()
	t.Logf("overtaken: %v", lost)
	l, err := places[0].acquire(Holder{What: "test"}, hasty{})
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
	got := folderOf(t, places[0].Dir)
	if d := differ(want, readingsOnly(got)); d != nil {
		t.Errorf("the readings are others: %v", d)
	}
	wholeInBucket(t, "in the end", b, got)
	if r, err := places[1].Check(context.Background(), Holder{What: "test"}); err != nil || len(r.Findings) > 0 || r.Files != 6 {
		t.Errorf("check: %+v, %v", r, err)
	}
}

// sent gives an archive in a bucket, and the bytes that it holds.
func sent(t *testing.T) (Place, *shop, map[string]string) {
	t.Helper()
	dir, inbox := scene(t)
	s := openShop(t)
	p := Place{dir, s.bucket(t)}
	if err := attemptFar(p, inbox, hasty{}); err != nil {
		t.Fatal(err)
	}
	return p, s, objects(t, p.Bucket)
}

// anyOf gives the name of some object of a table.
func anyOf(t *testing.T, m map[string]string, table string) string {
	t.Helper()
	for _, name := range sortedKeys(m) {
		if strings.HasPrefix(name, table+"/") {
			return name
		}
	}
	t.Fatal("there is none of " + table)
	return ""
}

// spoil flips a bit of an object or takes it away.
func spoil(t *testing.T, p Place, name, text string, away bool) {
	t.Helper()
	err := p.Bucket.Remove(name)
	if !away {
		b := []byte(text)
		b[len(b)/2] ^= 4
		err = p.Bucket.Put(name, strings.NewReader(string(b)), int64(len(b)))
	}
	if err != nil {
		t.Fatal(err)
	}
}

// An object that is lost or flipped in the bucket is never read as if it were
// sound; a whole copy brings it back.
func TestBucketIsDamaged(t *testing.T) {
	p, _, want := sent(t)
	folder := folderOf(t, p.Dir)
	for _, table := range []string{Readings, Files, originalsDir} {
		for _, away := range []bool{false, true} {
			name := anyOf(t, folder, table)
			what := fmt.Sprintf("%s, gone %t", name, away)
			spoil(t, p, name, want[name], away)
			a, err := Place{t.TempDir(), p.Bucket}.Open()
			if err != nil {
				t.Fatal(err)
			}
			if err := a.Bring(); table != originalsDir && !errors.Is(err, ErrDamaged) {
				t.Errorf("%s: read as if it were sound: %v", what, err)
			}
			r, err := p.Check(context.Background(), Holder{What: "test"})
			if err != nil || len(r.Findings) != 1 || r.Findings[0].Path != name {
				t.Errorf("%s: check finds %v, %v", what, r, err)
			}
			l, err := p.acquire(Holder{What: "test"}, hasty{})
			if err != nil {
				t.Fatal(err)
			}
			if away { // the night sees by the list alone
				s, err := Scrub(context.Background(), l, noon)
				if err != nil || len(s.Sent) != 1 || s.Sent[0] != name {
					t.Errorf("%s: the night sent %v, %v", what, s.Sent, err)
				}
			} else if _, err := Repair(context.Background(), l, RebuildOptions{Decode: decodeLines}); err != nil {
				t.Fatal(err)
			}
			if err := l.Release(); err != nil {
				t.Fatal(err)
			}
			if d := differ(want, objects(t, p.Bucket)); d != nil {
				t.Errorf("%s: the bucket: %v", what, d)
			}
		}
	}
}

// What the disk of the copy lost or changed comes from the bucket.
func TestCopyIsDamaged(t *testing.T) {
	p, _, _ := sent(t)
	want := folderOf(t, p.Dir)
	for _, table := range []string{Readings, Coverage, originalsDir, manifestName} {
		name := table
		if table != manifestName {
			name = anyOf(t, want, table)
		}
		path := filepath.Join(p.Dir, name)
		if err := os.WriteFile(path, []byte("rubbish"), 0o644); err != nil {
			t.Fatal(err)
		}
		l, err := p.acquire(Holder{What: "test"}, hasty{})
		if err != nil {
			t.Fatal(err)
		}
		s, err := Scrub(context.Background(), l, noon)
		if err != nil || table != manifestName && (len(s.Healed) != 1 || !strings.HasPrefix(s.Healed[0], name)) {
			t.Errorf("%s: the night healed %v, %v", name, s.Healed, err)
		}
		if err := l.Release(); err != nil {
			t.Fatal(err)
		}
		got := folderOf(t, p.Dir)
		delete(got, scrubName)
		if d := differ(want, got); d != nil {
			t.Errorf("%s: %v", name, d)
		}
	}
}

// A store that does not answer is given up, with words, and nothing is lost.
func TestBucketHangs(t *testing.T) {
	want, _ := undisturbed(t)
	dir, inbox := scene(t)
	s := openShop(t)
	p := Place{dir, s.bucket(t)}
	s.fault(12, func(int) (bool, bool) { <-s.slow; return false, false })
	began := time.Now()
	err := attemptFar(p, inbox, hasty{})
	if err == nil || !strings.Contains(err.Error(), "s3://lamps/north/") {
		t.Errorf("it says %v", err)
	}
	if took := time.Since(began); took > time.Minute {
		t.Errorf("given up after %v", took)
	}
	s.fault(0, nil)
	settleFar(t, "hung", p, inbox, want)
}

// A folder and a bucket that are not one archive are never mixed.
func TestBucketElsewhere(t *testing.T) {
	p, _, _ := sent(t)
	refused := func(what string, p Place, want error, words string) {
		t.Helper()
		l, err := p.acquire(Holder{What: "test"}, hasty{})
		if err == nil {
			l.Release()
		}
		if !errors.Is(err, want) || !strings.Contains(err.Error(), words) {
			t.Errorf("%s: %v", what, err)
		}
	}
	refused("the copy taken for the archive", Place{Dir: p.Dir}, ErrElsewhere, "copy of s3://lamps/north")
	if _, err := Open(p.Dir); !errors.Is(err, ErrElsewhere) {
		t.Errorf("a reader takes the copy for the archive: %v", err)
	}
	own, _ := scene(t)
	refused("an archive of its own", Place{own, p.Bucket}, ErrElsewhere, "holds an archive of its own")

	before := objects(t, p.Bucket)
	if err := p.Bucket.Remove(manifestName); err != nil {
		t.Fatal(err)
	}
	refused("the bucket's manifest is gone", p, ErrLost, "any more")
	refused("and nothing is here", Place{t.TempDir(), p.Bucket}, ErrLost, "but there is")
	if err := os.Remove(filepath.Join(p.Dir, markName)); err != nil { // as the words say
		t.Fatal(err)
	}
	if err := attemptFar(p, t.TempDir(), hasty{}); err != nil {
		t.Fatal(err)
	}
	if d := differ(before, objects(t, p.Bucket)); d != nil {
		t.Errorf("sent again: %v", d)
	}

	old := objects(t, p.Bucket)[manifestName]
	if err := attemptFar(p, inboxOf(t, "s9", 1), hasty{}); err != nil {
		t.Fatal(err)
	}
	if err := p.Bucket.Put(manifestName, strings.NewReader(old), int64(len(old))); err != nil {
		t.Fatal(err)
	}
	refused("an older manifest brought back", p, ErrLost, "older copy")
}

// What does not count is removed from the bucket, but not while somebody may be
// at work with it.
func TestBucketIsCleared(t *testing.T) {
	p, _, want := sent(t)
	for name, text := range map[string]string{
		"readings/month=2026-11/day=02/scale=2/0123456789abcdef.parquet": "never counted",
		"originals/ab/" + strings.Repeat("ab", 32):                       "waits for its file to come again",
	} {
		if err := p.Bucket.Put(name, strings.NewReader(text), int64(len(text))); err != nil {
			t.Fatal(err)
		}
	}
	want["originals/ab/"+strings.Repeat("ab", 32)] = "waits for its file to come again"
	old := objects(t, p.Bucket)
	if len(old) <= len(want) {
		t.Fatalf("%d and %d objects", len(old), len(want))
	}
	for _, later := range []time.Duration{grace - time.Hour, grace + time.Hour} {
		l, err := p.acquire(Holder{What: "test"}, hasty{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Scrub(context.Background(), l, time.Now().Add(later)); err != nil {
			t.Fatal(err)
		}
		if err := l.Release(); err != nil {
			t.Fatal(err)
		}
		if later < grace {
			if d := differ(old, objects(t, p.Bucket)); d != nil {
				t.Errorf("removed too soon: %v", d)
			}
		}
	}
	m, err := parseManifest([]byte(want[manifestName]))
	if err != nil {
		t.Fatal(err)
	}
	for name := range want { // what the import replaced goes too
		if counts := !partName.MatchString(filepath.Base(name)); !counts {
			for _, part := range m.Parts {
				counts = counts || part.Path == name
			}
			if !counts {
				delete(want, name)
			}
		}
	}
	if d := differ(want, objects(t, p.Bucket)); d != nil {
		t.Errorf("%v", d)
	}
}
