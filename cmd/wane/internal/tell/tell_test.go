package tell

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var (
	noon    = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	invents = Settings{Site: "Invented site", Invented: true, SoonDays: 30, Link: "https://lamps.example.org/",
		Who: map[Duty]string{Lamps: "the electrician"}}
)

func dark(id string) Fact {
	return Fact{Key: "lamp dark " + id, Kind: Dark, Where: id, What: "dark and not replaced", Do: "replace the lamp"}
}

func silent(id string) Fact {
	return Fact{Key: "logger silent " + id, Kind: Silent, Where: "sensor " + id, What: "nothing read", Alarm: true}
}

// A digest says what is new, settled, moved and due soon, to whom, and counts what
// still waits; the next one says nothing of it again.
func TestDigestTellsWhatChanged(t *testing.T) {
	known := []Kind{Dark, Under, Silent, Files}
	var m Memory
	m.Learn(Facts{AsOf: "2026-02-22", Known: known, List: []Fact{dark("F1"), dark("F2"),
		{Key: "files x", Kind: Files, Where: "files", What: "x.csv is broken"}},
		Lamps: map[string]Lamp{
			"A": {"2026-09-01", "2026-08-01", "2026-10-01"}, "B": {"2026-09-01", "2026-08-01", "2026-10-01"},
			"C": {"2026-05-01", "2026-04-01", "2026-06-01"},
			"D": {"2026-09-01", "2026-08-01", ""},
		}}, noon.AddDate(0, 0, -7))
	m.Digest(invents, noon.AddDate(0, 0, -7))
	m.Outbox = nil
	m.Learn(Facts{AsOf: "2026-03-01", Known: known, List: []Fact{dark("F2"), dark("F3")},
		Lamps: map[string]Lamp{
			"A": {"2026-07-15", "2026-06-15", "2026-08-15"}, // out of what was told
			"B": {"2026-09-20", "2026-08-15", "2026-10-20"}, // within it
			"C": {"2026-03-28", "2026-03-10", "2026-04-20"}, // within 30 days of noon
			"D": {"2027-09-20", "2026-08-15", ""},           // had no upper end
		}}, noon)
	m.Digest(invents, noon)
	if len(m.Outbox) != 1 {
		t.Fatalf("%d messages", len(m.Outbox))
	}
	x := m.Outbox[0]
	if x.Kind != DigestMessage || x.Subject != "Invented site: 1 new, 1 settled, 1 due soon, 1 due dates moved" {
		t.Errorf("%s: %s", x.Kind, x.Subject)
	}
	for _, want := range []string{
		"What changed since 23 February 2026; readings up to 2026-03-01.", "Invented data",
		"New, for the electrician\n- F3: dark and not replaced\n  do: replace the lamp\n",
		"Settled\n- F1: lamp dark\n", "- C: 2026-03-28 (2026-03-10 to 2026-04-20); told before: 2026-05-01 (2026-04-01 to 2026-06-01)\n",
		"- A: 2026-07-15 (2026-06-15 to 2026-08-15); told before: 2026-09-01", "Still waiting: 1 lamp dark.",
		"https://lamps.example.org/", "lock it out", x.ID,
	} {
		if !strings.Contains(x.Text, want) {
			t.Errorf("the digest lacks %q:\n%s", want, x.Text)
		}
	}
	for _, not := range []string{"- B:", "- D:", "x.csv", "F1: dark"} {
		if strings.Contains(x.Text, not) {
			t.Errorf("the digest should not hold %q:\n%s", not, x.Text)
		}
	}
	m.Digest(invents, noon.AddDate(0, 0, 1))
	if len(m.Outbox) != 1 {
		t.Errorf("nothing is new, and told is %q", m.Outbox[1].Subject)
	}
	alive := invents
	alive.Heartbeat = true
	m.Digest(alive, noon.AddDate(0, 0, 2))
	if len(m.Outbox) != 2 || m.Outbox[1].Kind != HeartbeatMessage || !strings.Contains(m.Outbox[1].Text, "Nothing new") {
		t.Errorf("no heartbeat: %+v", m.Outbox)
	}
}

// A kind that was not looked for is neither settled nor forgotten.
func TestWhatWasNotLookedForStays(t *testing.T) {
	var m Memory
	step := Fact{Key: "step A", Kind: Step, Where: "A", What: "stepped"}
	m.Learn(Facts{Known: []Kind{Dark, Step}, List: []Fact{dark("F1"), step},
		Lamps: map[string]Lamp{"A": {Due: "2027-01-01"}}}, noon)
	m.Digest(invents, noon)
	m.Learn(Facts{Known: []Kind{Night}, List: []Fact{{Key: "night", Kind: Night, Where: "the last night",
		What: "it failed"}}}, noon)
	m.Learn(Facts{Known: []Kind{Dark, Night}}, noon)
	m.Digest(invents, noon)
	c := m.Outbox[1].Changes
	if len(c.New) != 0 || len(c.Settled) != 1 || c.Settled[0].Key != dark("F1").Key || !m.Latest.has("step A") ||
		m.Latest.Lamps["A"].Due == "" {
		t.Errorf("%+v, known are %+v", c, m.Latest)
	}
}

// An alarm goes once while its matter lasts, and again when it comes again.
func TestAlarmGoesOnceWhileItLasts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var m Memory
		was := map[string]bool{}
		for night := range rapid.IntRange(1, 12).Draw(t, "nights") {
			ids := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"L1", "L2", "L3"}), 0, 3, rapid.ID).Draw(t, "silent")
			f := Facts{Known: []Kind{Silent, Dark}, List: []Fact{dark("F1")}}
			var want []string
			now := map[string]bool{}
			for _, id := range ids {
				f.List = append(f.List, silent(id))
				now[id] = true
				if !was[id] {
					want = append(want, "sensor "+id)
				}
			}
			before := len(m.Outbox)
			m.Learn(f, noon)
			m.Alarms(invents, noon)
			m.Alarms(invents, noon)
			var got []string
			for _, x := range m.Outbox[before:] {
				for _, n := range x.Changes.New {
					got = append(got, n.Where)
				}
			}
			slices.Sort(got)
			slices.Sort(want)
			if !slices.Equal(got, want) || len(m.Outbox)-before > 1 {
				t.Fatalf("night %d: told of %v in %d messages, want %v", night, got, len(m.Outbox)-before, want)
			}
			was = now
		}
		seen := map[string]bool{}
		for _, x := range m.Outbox {
			if seen[x.ID] || !strings.Contains(x.Text, x.ID) {
				t.Fatalf("number %s: twice, or not in the text", x.ID)
			}
			seen[x.ID] = true
		}
	})
}

// Each channel has its own waits, and none holds up another.
func TestChannelsWaitOnTheirOwn(t *testing.T) {
	var m Memory
	m.Learn(Facts{Known: []Kind{Silent}, List: []Fact{silent("L1")}}, noon)
	m.Alarms(invents, noon)
	channels := []string{"mail", "webhook"}
	now, waits := noon, []time.Duration{}
	for range 12 {
		id, c, ok := m.Due(channels, now)
		if !ok || c != "mail" {
			t.Fatalf("at %s due is %s by %q", now, id, c)
		}
		m.Failed(id, "mail", "refused", now)
		if id, c, ok = m.Due(channels, now); ok && c == "webhook" {
			m.Sent(id, c, channels)
		} else if len(waits) == 0 {
			t.Fatal("the webhook is held up by the mail")
		}
		wait := m.Outbox[0].Trouble["mail"].NotYet.Sub(now)
		waits, now = append(waits, wait), now.Add(wait)
		if _, _, early := m.Due(channels, now.Add(-1)); early {
			t.Fatal("tried before its time")
		}
	}
	want := "[1m0s 2m0s 4m0s 8m0s 16m0s 32m0s 1h4m0s 2h8m0s 4h16m0s 6h0m0s 6h0m0s 6h0m0s]"
	if got := fmt.Sprint(waits); got != want {
		t.Errorf("waits %s, want %s", got, want)
	}
	id, _, _ := m.Due(channels, now)
	m.Sent(id, "mail", channels)
	if _, _, ok := m.Due(channels, now); ok || len(m.Outbox) != 0 {
		t.Errorf("still there: %+v", m.Outbox)
	}
}

// Names out of files do not make lines of their own, and long lists are cut.
func TestWordsKeepToTheirLines(t *testing.T) {
	var m Memory
	list := []Fact{{Key: "x", Kind: Dark, Where: "F1\nSubject: y", What: "dark\x1b[31m"}}
	for i := range 30 {
		list = append(list, dark(fmt.Sprint("G", i)))
	}
	m.Learn(Facts{Known: []Kind{Dark}, List: list}, noon)
	m.Digest(invents, noon)
	x := m.Outbox[0]
	if !strings.Contains(x.Text, "- G0, G1, G2") || strings.Contains(x.Text, "\nSubject: y") ||
		strings.Contains(x.Text, "\x1b") || !strings.Contains(x.Text, "and 11 more") || strings.Contains(x.Text, "G29") {
		t.Errorf("%s", x.Text)
	}
	m = Memory{}
	list[0].Alarm = true
	m.Learn(Facts{Known: []Kind{Dark}, List: list[:1]}, noon)
	m.Alarms(invents, noon)
	if strings.ContainsAny(m.Outbox[0].Subject, "\r\n") {
		t.Errorf("a subject of two lines: %q", m.Outbox[0].Subject)
	}
}
