package main

import (
	"context"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"wane/ingest/site"
)

const serviceDir = "../../schedules/service"

// The commands in the files for service managers and containers exist, with their
// flags, and a timer runs at the time at which a night is expected.
func TestServiceFilesRunRealCommands(t *testing.T) {
	root := newRoot(env{})
	shown := 0
	try := func(file string, words []string) {
		t.Helper()
		shown++
		c, _, err := root.Find(words[:1])
		if err != nil || c == root {
			t.Errorf("%s runs `wane %s`: no such command", file, strings.Join(words, " "))
			return
		}
		for _, w := range words[1:] {
			if name, ok := strings.CutPrefix(w, "--"); ok && c.Flags().Lookup(name) == nil &&
				c.InheritedFlags().Lookup(name) == nil {
				t.Errorf("%s runs `wane %s`: there is no --%s", file, strings.Join(words, " "), name)
			}
		}
	}
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join(serviceDir, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	for _, unit := range []string{"wane.service", "wane-pages.service", "wane-nightly.service"} {
		for _, m := range regexp.MustCompile(`(?m)^ExecStart=\S*/wane (.*)$`).FindAllStringSubmatch(read(unit), -1) {
			try(unit, strings.Fields(m[1]))
		}
	}
	for _, m := range regexp.MustCompile(`CMD \["(?:wane", ")?([^\]]*)"\]`).FindAllStringSubmatch(read("Containerfile"),
		-1) {
		try("Containerfile", strings.Split(m[1], `", "`))
	}
	var compose struct {
		Services map[string]struct {
			Image   string
			Command []string
		}
	}
	if err := yaml.Unmarshal([]byte(read("compose.yaml")), &compose); err != nil {
		t.Fatal(err)
	}
	for name, s := range compose.Services {
		if s.Image == "wane" {
			try("compose.yaml, "+name, s.Command)
		}
	}
	if shown != 7 {
		t.Errorf("%d commands found, not 7", shown)
	}
	fields := strings.Fields(site.Defaults().Schedules.Nightly)
	if want := "OnCalendar=*-*-* 0" + fields[1] + ":" + fields[0] + ":00 "; !strings.Contains(read("wane-nightly.timer"),
		want) {
		t.Errorf("the timer does not run at the default night, %q", want)
	}
}

// A service manager hears that the daemon is ready, lives and ends.
func TestServiceManagerIsTold(t *testing.T) {
	socket := filepath.Join(t.TempDir(), "s")
	l, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	t.Setenv("NOTIFY_SOCKET", socket)
	t.Setenv("WATCHDOG_USEC", "2000")
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	ended := make(chan struct{})
	go func() { defer close(ended); alive(ctx, slog.New(slog.DiscardHandler)) }()
	var got []string
	for b := make([]byte, 100); len(got) == 0 || got[len(got)-1] != "STOPPING=1"; {
		n, err := l.Read(b)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, string(b[:n]))
		if len(got) == 3 {
			cancel()
		}
	}
	<-ended
	if got[0] != "READY=1" || got[1] != "WATCHDOG=1" || got[2] != "WATCHDOG=1" {
		t.Errorf("told %v", got)
	}
}
