package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A nightly killed at any instant loses nothing: the next run ends with the
// same readings, roll-up and levels as one that was left alone, and the law
// holds. (Package archive kills at every step of its own; here the whole
// program dies at moments spread over its run.)
func TestKilledNightlyEndsTheSame(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	bin := filepath.Join(t.TempDir(), "wane")
	if err := os.Symlink(self, bin); err != nil { // under this name the test binary is the program, see TestMain
		t.Fatal(err)
	}
	site := func() string {
		dir := t.TempDir()
		plainSite(t, dir, 150, never)
		splitInbox(t, dir)
		return dir
	}
	undisturbed := site()
	began := time.Now()
	if out, err := exec.Command(bin, "nightly", "--site", undisturbed).CombinedOutput(); err != nil &&
		exitStatus(err) != exitPerson {
		t.Fatalf("%v\n%s", err, out)
	}
	whole := time.Since(began)
	want := kept(t, undisturbed)
	killed := 0
	const points = 14
	for k := range points {
		dir := site()
		c := exec.Command(bin, "nightly", "--site", dir)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		timer := time.AfterFunc(whole*time.Duration(k+1)/points,
			func() { c.Process.Kill() }) // the process started here, no other
		err := c.Wait()
		timer.Stop()
		if exitStatus(err) == -1 {
			killed++
		}
		if out, err := exec.Command(bin, "nightly", "--site", dir).CombinedOutput(); err != nil &&
			exitStatus(err) != exitPerson {
			t.Fatalf("after a kill: %v\n%s", err, out)
		}
		same(t, fmt.Sprintf("killed after %d of %d of the run", k+1, points), want, kept(t, dir))
		if out, err := exec.Command(bin, "check", "--site", dir).CombinedOutput(); err != nil &&
			exitStatus(err) != exitPerson {
			t.Errorf("check: %v\n%s", err, out)
		}
		if left, _ := filepath.Glob(filepath.Join(dir, "inbox", "*.csv")); len(left) > 0 {
			t.Errorf("left in the inbox: %v", left)
		}
	}
	if killed < points/2 {
		t.Errorf("only %d of %d runs were killed before they ended: nothing was tested", killed, points)
	}
}

// kept is all of the archive that does not say when a file was taken in.
func kept(t *testing.T, dir string) map[string]string {
	out := map[string]string{}
	for _, table := range []string{"originals", "readings", "daily", "levels"} {
		for name, data := range hashes(t, filepath.Join(dir, "archive", table)) {
			if strings.HasSuffix(name, ".json") {
				continue
			}
			out[table+"/"+name] = data
		}
	}
	return out
}

func exitStatus(err error) int {
	if e, ok := err.(*exec.ExitError); ok {
		return e.ExitCode()
	}
	return 0
}

// splitInbox makes ten files of the one, the last two overlapping.
func splitInbox(t *testing.T, dir string) {
	t.Helper()
	path := filepath.Join(dir, "inbox", "all.csv")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(strings.TrimSpace(string(data)), "\n")
	head, rows := lines[0], lines[1:]
	for i := range 10 {
		lo, hi := i*len(rows)/10, (i+1)*len(rows)/10
		if i == 9 {
			lo -= 200
		}
		text := head + strings.TrimRight(strings.Join(rows[lo:hi], ""), "\n") + "\n"
		if err := os.WriteFile(filepath.Join(dir, "inbox", fmt.Sprintf("part%d.csv", i)), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
