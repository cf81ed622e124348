package main

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"wane/cmd/wane/internal/batch"
	"wane/cmd/wane/internal/derive"
	"wane/cmd/wane/internal/night"
	"wane/cmd/wane/internal/show"
	"wane/cmd/wane/internal/suspects"
	"wane/ingest"
	"wane/ingest/archive"
	"wane/ingest/problem"
	"wane/ingest/register"
	"wane/ingest/site"
	"wane/transform/fleet"
)

func checkCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use:   "check",
		Short: "verify site.yaml, the register, the source descriptions and the archive",
		Long: `check reads site.yaml, register/ and sources/ and lists every mistake with file,
line, column and remedy. Then it verifies the archive: every checksum, count
and footer, and that no row is unaccounted for. --repair makes what is damaged
anew from the originals.

Last it lists what only a person can settle: series that the register does not
know, and readings that contradict each other (one series, one moment, two values).
Both values are kept and neither is used until register/decisions.csv says which
holds:

  sensor,channel,from,to,keep,note
  LG-3,CH1,2025-03-31T14:00:00Z,,812.5,the second export had another factor
  LG-3,CH2,2025-03-01,2025-03-31,highest,exported with the cap on
  *,*,2024-01-01,2024-12-31,finest,exported again with fewer decimals

keep is the value as it was read, or lowest, highest, finest (the one of most
decimals, where the others are it, rounded or cut) or none; an empty to means the
one moment, * every sensor or channel.

And it holds the last two weeks of every series (--days for more) against its own
past and the programmes of the rooms: out of range, stuck, clocks that are off by
an hour, jump or drift, levels in lux or foot-candles or with a slipped decimal,
channels that were swapped. Nothing is converted or left out because of it.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return runCheck(c, e) },
	}
	c.Flags().Int("days", suspects.Days, "how many days of readings to hold against their past")
	c.Flags().Bool("repair", false, "make what is damaged anew from the originals")
	return c
}

func runCheck(c *cobra.Command, e env) error {
	repair, err := c.Flags().GetBool("repair")
	if err != nil {
		return err
	}
	o, err := checkWritten(c)
	if err != nil {
		return err
	}
	w := c.OutOrStdout()
	fmt.Fprintf(w, "site.yaml and register: %d fixtures, %d series, %d logbook lines\n", len(o.Register.Fixtures),
		len(o.Register.Sensors), len(o.Register.Logbook))
	if repair {
		if err := repairArchive(c, o, e); err != nil {
			return err
		}
	}
	if err := checkArchive(c, o, e); err != nil {
		return err
	}
	days, err := c.Flags().GetInt("days")
	if err != nil {
		return err
	}
	if days < 1 {
		return usagef("--days %d is no number of days; write 14 or more", days)
	}
	var need []string
	err = o.view(func(a *archive.Archive) error {
		var err error
		if need, err = checkPerson(w, a, o); err != nil {
			return err
		}
		more, err := checkSeries(w, a, o, days)
		need = append(need, more...)
		return err
	})
	if err != nil {
		return err
	}
	return person(slices.Concat(o.planFaults(), o.strangeRooms(), aheadOf(e.now(), o.Register.Logbook), need))
}

// aheadOf names the logbook's lines that are dated after now: often a slip of the pen.
func aheadOf(now time.Time, logbook []fleet.Entry) []string {
	var out []string
	for _, l := range logbook {
		if l.At.After(now) {
			out = append(out, fmt.Sprintf("register/logbook.csv line %d: %s %s %s is dated %s, which lies ahead: until then it "+
				"counts for nothing; mend the date if it is done already", l.Line, l.What, l.Scope, l.ID, l.At.Format(time.DateOnly)))
		}
	}
	return out
}

// checkWritten reads all that people write; every mistake is listed.
func checkWritten(c *cobra.Command) (*opened, error) {
	o, err := openSite(c)
	var found, more problem.List
	if err != nil && !errors.As(err, &found) {
		return nil, err
	}
	if o == nil {
		dir, _ := c.Flags().GetString("site") // a flag of the root: cannot fail
		_, err = ingest.Descriptions(site.Folder(dir))
	} else {
		_, err = ingest.Descriptions(o.folder)
	}
	if err != nil && !errors.As(err, &more) {
		return nil, err
	}
	return o, append(found, more...).Err()
}

// strangeRooms names the rooms of site.yaml in which no fixture hangs: what is
// said of them holds for no lamp.
func (o *opened) strangeRooms() []string {
	var hung []string
	for _, f := range o.Register.Fixtures {
		if !slices.Contains(hung, f.Room) {
			hung = append(hung, f.Room)
		}
	}
	if len(hung) == 0 {
		return nil // a new site
	}
	var out []string
	for section, rooms := range map[string][]string{
		"rooms":            slices.Collect(maps.Keys(o.Config.Rooms)),
		"thresholds.rooms": slices.Collect(maps.Keys(o.Config.Thresholds.Rooms)),
	} {
		for _, room := range rooms {
			if slices.Contains(hung, room) {
				continue
			}
			do := "the rooms are " + problem.Few(hung, 10)
			if near := problem.Nearest(room, hung); near != "" {
				do = fmt.Sprintf("did you mean %q?", near)
			}
			out = append(out, fmt.Sprintf("site.yaml: %s: no fixture hangs in a room %q, so that what it says holds "+
				"for no lamp; %s", section, room, do))
		}
	}
	slices.Sort(out)
	return out
}

func checkArchive(c *cobra.Command, o *opened, e env) error {
	w := c.OutOrStdout()
	place, err := o.Archive(o.folder)
	if err != nil {
		return err
	}
	r, err := place.Check(c.Context(), batch.Holder(e.now()))
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "archive: %s\n", lastVerified(o, e))
	for _, f := range r.Findings {
		fmt.Fprintf(w, "archive: %s\n", f)
	}
	if err := (night.Check{At: e.now().UTC(), Findings: len(r.Findings)}).Save(o.folder); err != nil {
		fmt.Fprintf(c.ErrOrStderr(), "wane: %v\n", err) // whoever may only read may check all the same
	}
	if n := len(r.Findings); n > 0 {
		return fmt.Errorf("the archive is damaged in %d places, listed above with what to do", n)
	}
	fmt.Fprintf(w, "archive: %d files, %d rows = %d stored + %d duplicate + %d quarantined; %d parts verified\n",
		r.Files, r.Counts.Rows, r.Counts.Stored, r.Counts.Duplicate, r.Counts.Quarantined, r.Parts)
	if n := len(r.Waiting); n > 0 {
		fmt.Fprintf(w, "archive: %d files of a killed run wait to be offered again; the next ingest clears up\n", n)
	}
	return nil
}

// lastVerified says how long ago the nights verified the archive's bytes.
func lastVerified(o *opened, e env) string {
	least, most, never := archive.Verified(o.folder.Path("archive"), e.now())
	switch {
	case never == archive.Shares:
		return "no night has verified it yet; this check has"
	case never > 0:
		return fmt.Sprintf("by the nights, %d of %d shares of its bytes were last verified %d to %d days ago, the others "+
			"never; by this check now", archive.Shares-never, archive.Shares, least, most)
	}
	return fmt.Sprintf("every byte was last verified by the nights %d to %d days ago, and by this check now", least, most)
}

func repairArchive(c *cobra.Command, o *opened, e env) (err error) {
	lock, err := o.acquire(e)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	r, err := ingest.Repair(c.Context(), lock)
	if r != nil {
		for _, f := range r.Findings {
			fmt.Fprintf(c.OutOrStdout(), "was damaged: %s: %s\n", f.Path, f.What)
		}
	}
	return err
}

// checkPerson lists what only a person can settle.
func checkPerson(w io.Writer, a *archive.Archive, o *opened) ([]string, error) {
	var need []string
	unknown, err := ingest.Unknown(a, o.Register)
	if err != nil {
		return nil, err
	}
	if n := len(unknown); n > 0 {
		fmt.Fprintln(w, "\nseries that the register does not know")
		for _, name := range unknown {
			fmt.Fprintf(w, "  %s\n", show.OneLine(name))
		}
		need = append(need, fmt.Sprintf("%d series that the register does not know; add them to %s and the next "+
			"run uses them", n, register.SensorsFile))
	}
	open, err := undecided(a, o.Register)
	if err != nil {
		return nil, err
	}
	if open.moments > 0 {
		fmt.Fprintln(w, "\nreadings that contradict each other; none of the values is used")
		if err := open.table().Print(w, show.Text); err != nil {
			return nil, err
		}
		need = append(need, open.need())
	}
	return need, nil
}

// checkSeries lists what the series say against their own past.
func checkSeries(w io.Writer, a *archive.Archive, o *opened, days int) ([]string, error) {
	last, any := derive.LastDay(a, o.Site)
	if !any {
		return nil, nil
	}
	found, err := suspects.Find(a, o.Site, last, days)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	fmt.Fprintln(w, "\nseries to look at; nothing was changed because of it")
	t := &show.Table{Columns: show.Columns("sensor", "channel", "what", "sure", "from", "to", "seen", "do")}
	for _, f := range found {
		t.Add(f.Sensor, f.Channel, string(f.Kind), string(f.Sure), f.From.In(o.Config.Location).Format(time.RFC3339),
			f.To.In(o.Config.Location).Format(time.RFC3339), f.What, f.Do)
	}
	if err := t.Print(w, show.Text); err != nil {
		return nil, err
	}
	return []string{fmt.Sprintf("%d things about series of the last %d days are listed above with what to do", len(found),
		days)}, nil
}
