package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/derive"
	"wane/ingest/archive"
)

func serveCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use:   "serve",
		Short: "the report pages on loopback, plus health and metrics",
		Long: `serve shows the report pages to this machine only (a loopback address), with
/health for a watchdog and /metrics in the text form that scrapers read. It
changes nothing and needs no lock. It ends at an interrupt.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runServe(c, e) },
	}
	c.Flags().String("address", "127.0.0.1:8017", "loopback address and port")
	return c
}

func runServe(c *cobra.Command, e env) error {
	address, err := c.Flags().GetString("address")
	if err != nil {
		return err
	}
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return usagef("--address %q is not host:port; write 127.0.0.1:8017", address)
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return usagef("--address %q is not a loopback address; the pages are for this machine, put a proxy with a login before them for others", address)
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return fmt.Errorf("serve: %w", err)
	}
	server := &http.Server{Handler: pages(o, e), ReadHeaderTimeout: 5 * time.Second}
	fmt.Fprintf(c.OutOrStdout(), "http://%s/\n", listener.Addr())
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	select {
	case err := <-ended:
		return err
	case <-c.Context().Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(c.Context()), 5*time.Second)
	defer cancel()
	if err := server.Shutdown(stop); err != nil {
		return fmt.Errorf("end serving: %w", err)
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// pages serves the reports folder, health and metrics.
func pages(o *opened, e env) http.Handler {
	mux := http.NewServeMux()
	files := http.FileServer(http.Dir(o.folder.Path("reports")))
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; script-src 'unsafe-inline'")
		w.Header().Set("X-Content-Type-Options", "nosniff")
		files.ServeHTTP(w, r)
	})
	mux.HandleFunc("GET /health", func(w http.ResponseWriter, _ *http.Request) {
		h, err := healthOf(o, e.now())
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
		if h.behind > 2 {
			w.WriteHeader(http.StatusServiceUnavailable)
		}
		fmt.Fprintf(w, "last day read %s, %d days ago\n", h.last, h.behind)
	})
	mux.HandleFunc("GET /metrics", func(w http.ResponseWriter, _ *http.Request) {
		h, err := healthOf(o, e.now())
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "text/plain; version=0.0.4")
		fmt.Fprint(w, h.metrics())
	})
	return mux
}

// health is what a watchdog asks of a site.
type health struct {
	last   string
	behind int32 // days between the last day read and yesterday
	files  int
	counts archive.Counts
	parts  map[string]int
}

func healthOf(o *opened, now time.Time) (h health, err error) {
	err = o.view(func(a *archive.Archive) error {
		h = health{last: "never", behind: 1 << 20, parts: map[string]int{}}
		if last, any := derive.LastDay(a, o.Site); any {
			h.last = day(last)
			h.behind = max(0, derive.DayOf(now, o.Config.Location)-1-last)
		}
		files, err := a.Files()
		if err != nil {
			return err
		}
		h.files = len(files)
		for _, f := range files {
			h.counts.Add(f.Counts)
		}
		for _, p := range a.Manifest().Parts {
			h.parts[p.Table]++
		}
		return nil
	})
	return h, err
}

func (h health) metrics() string {
	var b strings.Builder
	one := func(name, help, kind string, v int64) {
		fmt.Fprintf(&b, "# HELP %s %s\n# TYPE %s %s\n%s %d\n", name, help, name, kind, name, v)
	}
	one("wane_days_behind", "Days between the last day read and yesterday.", "gauge", int64(h.behind))
	one("wane_files_taken_in", "Files taken in.", "gauge", int64(h.files))
	one("wane_rows", "Rows of all files.", "gauge", h.counts.Rows)
	one("wane_rows_stored", "Rows stored.", "gauge", h.counts.Stored)
	one("wane_rows_duplicate", "Rows that were stored before.", "gauge", h.counts.Duplicate)
	one("wane_rows_quarantined", "Rows in quarantine.", "gauge", h.counts.Quarantined)
	fmt.Fprintf(&b, "# HELP wane_parts Parts of a table.\n# TYPE wane_parts gauge\n")
	for _, t := range sortedKeys(h.parts) {
		fmt.Fprintf(&b, "wane_parts{table=%q} %d\n", t, h.parts[t])
	}
	return b.String()
}
