// Package kinds knows all kinds of sources.
package kinds

import (
	"fmt"

	"wane/ingest/collect"
	"wane/ingest/collect/ftp"
	"wane/ingest/collect/http"
	"wane/ingest/collect/modbus"
	"wane/ingest/collect/mqtt"
	"wane/ingest/collect/push"
	"wane/ingest/collect/s3"
	"wane/ingest/collect/sftp"
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
		case c.Modbus != nil:
			return modbus.New(s)
		case c.SFTP != nil:
			return sftp.New(s)
		case c.FTP != nil:
			return ftp.New(s)
		case c.S3 != nil:
			return s3.New(s)
		case c.Push != nil:
			return push.New(s, hub)
		}
		return nil, fmt.Errorf("no kind of source is known that collects %s", s.Description.Collect.Kind())
	}
}
