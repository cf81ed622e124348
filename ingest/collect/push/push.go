// Package push listens for loggers that POST their readings.
//
//  1. POST /push/NAME with Authorization: Bearer TOKEN brings a body to source
//     NAME. The name of its file may follow (/push/NAME/bay1.csv), for
//     descriptions that find the sensor in it.
//  2. The token is compared in constant time, before anything of the body is read.
//  3. The body goes to the box whole. 204 is answered only once it is on disk; a
//     sender that hears nothing sends it again, and nothing is added twice by it.
//  4. A body that does not read as described is kept and answered 204 all the
//     same: sending it again would not mend it. The source's status says so.
//
// Sources of one address share a listener, which ends with the last of them.
package push

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"golang.org/x/time/rate"

	"wane/ingest/collect"
	"wane/ingest/source"
)

// burst is how many seconds' worth of requests may come at once, as after a
// logger was cut off.
const burst = 10

// Source is a source that is sent to. Make it with New.
type Source struct {
	set   collect.Setting
	spec  *source.Push
	hub   *Hub
	rates *rate.Limiter

	token [sha256.Size]byte // its hash
	box   collect.Box
}

var _ collect.Listener = (*Source)(nil)

// New makes the source that its description's collect.push describes, on the
// hub's listeners.
func New(set collect.Setting, hub *Hub) (*Source, error) {
	spec := set.Description.Collect.Push
	return &Source{set: set, spec: spec, hub: hub, rates: rate.NewLimiter(rate.Limit(spec.Rate),
		max(1, int(burst*spec.Rate)))}, nil
}

// Listen takes what is sent into the box until ctx ends.
func (s *Source) Listen(ctx context.Context, box collect.Box, up func(error)) error {
	token, err := s.set.Vault.Read(s.spec.Token)
	if err != nil {
		return collect.Refused(err)
	}
	if len(token) < 16 {
		return collect.Refused(fmt.Errorf("the token in %v has less than 16 letters; make a long one at random",
			s.spec.Token))
	}
	s.token, s.box = sha256.Sum256([]byte(token)), box
	ended, leave, err := s.hub.join(s)
	if err != nil {
		return err
	}
	defer leave()
	up(nil)
	select {
	case <-ctx.Done():
		return nil
	case err := <-ended:
		return err
	}
}

// ServeHTTP takes one request to the source.
func (s *Source) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	given, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	hash := sha256.Sum256([]byte(given))
	if !ok || subtle.ConstantTimeCompare(hash[:], s.token[:]) != 1 {
		w.Header().Set("WWW-Authenticate", "Bearer")
		http.Error(w, "the token of this source is wanted as Authorization: Bearer", http.StatusUnauthorized)
		return
	}
	if r.Method != http.MethodPost && r.Method != http.MethodPut {
		w.Header().Set("Allow", "POST, PUT")
		http.Error(w, "readings are brought by POST", http.StatusMethodNotAllowed)
		return
	}
	if !s.rates.Allow() {
		w.Header().Set("Retry-After", "10")
		http.Error(w, "more requests a second than collect.push.rate", http.StatusTooManyRequests)
		return
	}
	limit := int64(s.set.Description.Collect.Limit)
	if r.ContentLength > limit {
		http.Error(w, "larger than collect.limit", http.StatusRequestEntityTooLarge)
		return
	}
	if r.ContentLength == 0 {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), s.set.Description.Collect.Timeout.Std())
	defer cancel()
	switch _, err := s.box.Put(ctx, s.fileName(r), http.MaxBytesReader(w, r.Body, limit)); {
	case err == nil && s.set.Try:
		http.Error(w, "this is a trial and keeps nothing; send it again", http.StatusServiceUnavailable)
	case err == nil:
		w.WriteHeader(http.StatusNoContent)
	case errors.Is(err, collect.ErrTooLarge), errors.As(err, new(*http.MaxBytesError)):
		http.Error(w, "larger than collect.limit", http.StatusRequestEntityTooLarge)
	case r.Context().Err() != nil, ctx.Err() != nil:
		http.Error(w, "the body did not end in time", http.StatusRequestTimeout)
	default:
		http.Error(w, "could not be kept; send it again", http.StatusServiceUnavailable)
	}
}

// fileName is what the body is called: what stands behind the source's name, else
// that name with what its type is.
func (s *Source) fileName(r *http.Request) string {
	name := s.set.Description.Name
	if _, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, prefix), "/"); rest != "" {
		return rest
	}
	switch kind, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";"); {
	case strings.HasSuffix(kind, "json"):
		return name + ".json"
	case kind == "text/csv":
		return name + ".csv"
	}
	return name + ".txt"
}
