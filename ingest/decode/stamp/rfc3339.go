package stamp

import (
	"strings"
	"time"
)

// RFC3339Time reads an RFC 3339 time that a person wrote. The end of a day may
// be written 24:00:00, as ISO 8601 allows: it is 00:00 of the next day.
func RFC3339Time(s string) (time.Time, error) {
	const end = "T24:00:00"
	if len(s) > len("2006-01-02") && strings.HasPrefix(s[len("2006-01-02"):], end) {
		if t, err := time.Parse(time.RFC3339, strings.Replace(s, end, "T00:00:00", 1)); err == nil && t.Nanosecond() == 0 {
			return t.AddDate(0, 0, 1), nil
		}
	}
	return time.Parse(time.RFC3339, s)
}
