package main

import (
	"fmt"
	"net"
	"net/http"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/pages/report"
	"wane/cmd/wane/internal/pages/yearly"
	"wane/cmd/wane/internal/plans"
	"wane/cmd/wane/internal/serve"
)

func serveCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use:   "serve",
		Short: "the report pages on loopback, plus health and metrics",
		Long: `serve shows the report pages to this machine only (a loopback address), with
/health for a watchdog and /metrics in the text form that scrapers read: how the
last night went, what waits, when the archive was last checked, how each source
does. /health is 503 where the last night failed, was cut off or is missing, or
where nothing comes from a source. /plan.ics is the plan's visits and orders as a
calendar to which a calendar program subscribes by this address. Requests must name the
loopback address (or localhost); a proxy before the pages sets the Host header
to it. It changes nothing and needs no lock. It ends at an interrupt.`,
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
	fmt.Fprintf(c.OutOrStdout(), "http://%s/\n", listener.Addr())
	return serve.Until(c.Context(), listener, pages(o, e))
}

// pages serves the reports folder, health and metrics.
func pages(o *opened, e env) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("/", serve.Pages(o.folder.Path("reports")))
	mux.HandleFunc("/health", func(w http.ResponseWriter, _ *http.Request) {
		h := healthOf(o, e.now())
		if len(h.faults) > 0 {
			w.WriteHeader(http.StatusServiceUnavailable)
		}
		fmt.Fprint(w, h.words())
	})
	mux.Handle("/metrics", metrics(o, e))
	calendar := serve.Pages(o.folder.Path("reports"))
	mux.HandleFunc("/"+plans.Calendar, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
		calendar.ServeHTTP(w, r)
	})
	return serve.Guard(mux, report.StyleHash(), yearly.StyleHash())
}
