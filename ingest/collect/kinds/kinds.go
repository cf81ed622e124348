// Package kinds knows all kinds of sources.
package kinds

import (
	"fmt"

	"wane/ingest/collect"
	"wane/ingest/collect/http"
	"wane/ingest/collect/mqtt"
	"wane/ingest/collect/push"
)

// Maker gives what makes the kind of any source. Sources that are sent to and
// share an address share its listener, so that one Maker serves a process.
func Maker() collect.Make {
	hub := push.NewHub()
	return func(s collect.Setting) (any, error) {
		switch c := s.Description.Collect; {
		case c.HTTP != nil:
			return http.New(s)
		case c.MQTT != nil:
			return mqtt.New(s)
		case c.Push != nil:
			return push.New(s, hub)
		}
		return nil, fmt.Errorf("no kind of source is known that collects %s", s.Description.Collect.Kind())
	}
}
