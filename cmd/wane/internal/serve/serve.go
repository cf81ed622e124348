// Package serve shows a folder of pages to this machine alone.
//
// What is asked for by another name than the loopback address listened on is
// refused: a page of somebody else's, whose name was made to point here (DNS
// rebinding), gets nothing. Pages may use the styles that they came with, and the
// script and the style that lie beside them: nothing written into a page runs. No link is followed out of the
// folder, folders are not listed, and
// whoever reads slowly is let go.
package serve

import (
	"context"
	"errors"
	"net"
	"net/http"
	"strings"
	"time"
)

// The times after which a connection is given up.
const (
	readTime  = 10 * time.Second // for the whole request
	writeTime = 30 * time.Second // for the whole answer
	idleTime  = 60 * time.Second // between requests
	endTime   = 3 * time.Second  // for what is under way when serving ends
	mostHead  = 16 << 10         // bytes of a request's head
)

// Until serves h on the listener until ctx ends; then requests under way have
// a few seconds, and what is left is cut off.
func Until(ctx context.Context, l net.Listener, h http.Handler) error {
	server := &http.Server{
		Handler: h, ReadHeaderTimeout: readTime, ReadTimeout: readTime, WriteTimeout: writeTime, IdleTimeout: idleTime,
		MaxHeaderBytes: mostHead,
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), endTime)
	defer cancel()
	if err := server.Shutdown(stop); err != nil {
		_ = server.Close() // the connections of slow readers; they are told by the cut
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// Guard lets requests through that name the address they came in on, with headers
// that keep the answer's page from loading or running anything but files from beside
// it. styles are the hashes of the style elements that pages may hold, as
// "sha256-…".
func Guard(h http.Handler, styles ...string) http.Handler {
	style := "'self'"
	if len(styles) > 0 {
		style += " '" + strings.Join(styles, "' '") + "'"
	}
	policy := "default-src 'none'; img-src 'self' data:; style-src " + style +
		"; script-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		head := w.Header()
		head.Set("Content-Security-Policy", policy)
		head.Set("X-Content-Type-Options", "nosniff")
		head.Set("Referrer-Policy", "no-referrer")
		head.Set("Cross-Origin-Resource-Policy", "same-origin")
		head.Set("Cross-Origin-Opener-Policy", "same-origin")
		head.Set("Cache-Control", "no-cache")
		if !here(r) {
			http.Error(w, "this machine's pages are asked for by their loopback address only; a proxy before them sets the Host header to it", http.StatusMisdirectedRequest)
			return
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			head.Set("Allow", "GET, HEAD")
			http.Error(w, "pages are read, nothing else", http.StatusMethodNotAllowed)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// here says whether the request names the address at which it arrived, or
// localhost with that port.
func here(r *http.Request) bool {
	at, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	if !ok || !at.IP.IsLoopback() {
		return false
	}
	host, port, err := net.SplitHostPort(r.Host)
	if err != nil { // no port: the one of plain HTTP
		host, port = strings.Trim(r.Host, "[]"), "80"
	}
	_, want, _ := net.SplitHostPort(at.String())
	return port == want && (strings.EqualFold(host, "localhost") || at.IP.Equal(net.ParseIP(host)))
}
