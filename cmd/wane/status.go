package main

import (
	"cmp"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/show"
	"wane/cmd/wane/internal/tell"
	"wane/cmd/wane/internal/tell/post"
	"wane/ingest/collect"
	"wane/schedules"
)

func statusCommand(e env) *cobra.Command {
	return withFormat(&cobra.Command{
		Use:   "status",
		Short: "one screen: the last night, what waits, each source",
		Long: `status says how the last night went and when the next is due, how old the
readings are, what waits for a person, whether people could be told, and of each
source that is collected when that last went well, what came and what is missing.
It changes nothing and needs no lock.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runStatus(c, e) },
	})
}

func runStatus(c *cobra.Command, e env) error {
	format, err := formatOf(c)
	if err != nil {
		return err
	}
	o, err := openSite(c)
	if err != nil {
		return err
	}
	h := healthOf(o, e.now())
	t := &show.Table{Columns: show.Columns("what", "state", "at", "more")}
	statusNight(t, h, o)
	if err := statusFiles(t, o); err != nil {
		return err
	}
	if err := statusTold(t, o); err != nil {
		return err
	}
	for _, w := range h.night.Waits {
		t.Add("waits", "", "", w)
	}
	for _, s := range h.sources {
		statusSource(t, s)
	}
	if err := t.Print(c.OutOrStdout(), format); err != nil {
		return err
	}
	return person(h.faults)
}

func at(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

// statusNight says how the last night went, when the next is, and how old the
// readings are.
func statusNight(t *show.Table, h *health, o *opened) {
	n := h.night
	switch {
	case !h.nights:
		t.Add("last night", "none", "", "")
	case n.Running():
		t.Add("last night", "running", at(n.Start), "")
	case n.End.IsZero():
		t.Add("last night", "cut off", at(n.Start), "")
	case n.Exit != exitDone && n.Exit != exitPerson:
		t.Add("last night", "failed", at(n.End), n.Error)
	default:
		t.Add("last night", "done", at(n.End), fmt.Sprintf("%d files, %d rows: %d stored, %d duplicate, %d quarantined",
			n.Files, n.Rows, n.Stored, n.Duplicate, n.Quarantined))
	}
	if line, err := schedules.ParseLine(o.Config.Schedules.Nightly); err == nil { // checked with site.yaml
		t.Add("next night", "", at(line.Next(o.Config.Location, h.now)), "where `wane run` or a timer of that time runs")
	}
	if h.parts != nil {
		state := "none yet"
		if h.read {
			state = fmt.Sprintf("%d days behind", h.behind)
		}
		t.Add("readings", state, h.last,
			fmt.Sprintf("%d rows stored of %d files", h.counts.Stored, h.files))
	}
	if h.checked {
		t.Add("last check", fmt.Sprintf("%d damaged", h.check.Findings), at(h.check.At), "")
	}
}

// statusFiles says how many files wait in the inbox.
func statusFiles(t *show.Table, o *opened) error {
	list, err := os.ReadDir(o.folder.Path("inbox"))
	if err != nil && !os.IsNotExist(err) {
		return fmt.Errorf("look into the inbox: %w", err)
	}
	n := 0
	for _, f := range list {
		if !strings.HasPrefix(f.Name(), ".") {
			n++
		}
	}
	t.Add("inbox", fmt.Sprintf("%d wait", n), "", "")
	return nil
}

// statusTold says what people could not be told yet.
func statusTold(t *show.Table, o *opened) error {
	if o.Config.Tell.Mail == nil && o.Config.Tell.Webhook == nil {
		return nil
	}
	m, err := post.Load(o.folder)
	if err != nil {
		return err
	}
	t.Add("told", fmt.Sprintf("%d wait", len(m.Outbox)), at(m.DigestAt), "last digest")
	for _, channel := range post.Channels(o.folder, o.Config.Tell) {
		if last := trouble(m, channel.Name()); last != nil {
			t.Add("told", channel.Name()+" fails", at(last.NotYet), "is tried again then: "+last.Error)
		}
	}
	return nil
}

// trouble is what a channel says of the last message that it did not take.
func trouble(m *tell.Memory, channel string) *tell.Trouble {
	for i := len(m.Outbox) - 1; i >= 0; i-- {
		if x, ok := m.Outbox[i].Trouble[channel]; ok {
			return &x
		}
	}
	return nil
}

// statusSource is a source's line.
func statusSource(t *show.Table, s collect.Status) {
	state := "well"
	switch g := s.Open(); {
	case g != nil:
		state = "gap since " + at(g.From)
	case s.Error != "":
		state = "failing"
	case s.Tried.IsZero() && s.Succeeded.IsZero():
		state = "not yet"
	}
	more := fmt.Sprintf("%s, %d readings", s.Kind, s.Readings)
	if !s.LastReading.IsZero() {
		more += ", the last came " + at(s.LastReading)
	}
	if s.Missed > 0 {
		more += fmt.Sprintf(", %d polls missed", s.Missed)
	}
	if why := cmp.Or(s.Error, s.Unreadable); why != "" {
		more += ": " + why
	}
	t.Add("source "+s.Source, state, at(s.Succeeded), more)
}
