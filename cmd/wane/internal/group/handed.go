package group

import (
	"encoding/gob"
	"fmt"
	"io"

	"wane/ingest/group"
	"wane/transform/forecast"
)

// Fitted is the group's fit made elsewhere, by the steps of forecast.Joined at the sites
// (OpenPart), with their answers in the order of the group. It is plain data.
type Fitted struct {
	Key     string // of what it was made from, see Ready
	State   forecast.JoinedState
	Answers []Answer
}

// Ready names the sites of the group that can be fitted, as their last nights left them,
// and gives the key of what the fit is made from: a night takes a Fitted of that key, and
// fits itself where the key is another by then.
func Ready(f group.Folder, c group.Config) (names []string, key string) {
	var in []*Site
	for _, m := range c.Sites {
		s := &Site{Member: m, Dir: f.Of(m)}
		if s.open() == "" {
			in, names = append(in, s), append(names, m.Name)
		}
	}
	if len(in) == 0 {
		return nil, ""
	}
	return names, keyOf(in, Options{Folder: f, Config: c})
}

// Begin is the fit before its first step.
func Begin(c group.Config) forecast.JoinedState { return forecast.NewJoined(assumed(c)).State() }

// assumed is what the group assumes of lamp types.
func assumed(c group.Config) forecast.Defaults {
	d := forecast.DefaultTable()
	d.Classes = c.Forecast.LampTypes
	return d
}

// Write writes it for ReadFitted.
func (f *Fitted) Write(w io.Writer) error { return gob.NewEncoder(w).Encode(f) }

// ReadFitted reads what Write wrote.
func ReadFitted(r io.Reader) (*Fitted, error) {
	f := &Fitted{}
	if err := gob.NewDecoder(r).Decode(f); err != nil {
		return nil, fmt.Errorf("not a fit of a group: %w", err)
	}
	return f, nil
}

// answers gives them where they are of that key; else nil.
func (f *Fitted) answers(key string) *answered {
	if f == nil || f.Key != key {
		return nil
	}
	j, err := f.State.Joined()
	if err != nil || j.Pool() == nil {
		return nil
	}
	return joinedAnswers(j.Pool(), f.Answers)
}
