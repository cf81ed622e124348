package tell

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// mostListed is how many matters of a section are written out.
const mostListed = 20

func alarmSubject(s Settings, fresh []Fact) string {
	if len(fresh) == 1 {
		return oneLine(fmt.Sprintf("%s: %s, %s", s.Site, fresh[0].Kind, fresh[0].Where))
	}
	return fmt.Sprintf("%s: %d things that cannot wait", s.Site, len(fresh))
}

func alarmText(s Settings, fresh []Fact, id string) string {
	var b strings.Builder
	b.WriteString("This cannot wait. It is told once.\n")
	s.head(&b)
	s.section(&b, "Now", fresh)
	s.foot(&b, fresh, id)
	return b.String()
}

func digestSubject(s Settings, c Changes) string {
	if c.None() {
		return s.Site + ": nothing new"
	}
	var parts []string
	for _, p := range []struct {
		n    int
		what string
	}{{len(c.New), "new"}, {len(c.Settled), "settled"}, {len(c.Soon), "due soon"}, {len(c.Moved), "due dates moved"}} {
		if p.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", p.n, p.what))
		}
	}
	return s.Site + ": " + strings.Join(parts, ", ")
}

func digestText(s Settings, c Changes, now Facts, since time.Time, id string) string {
	var b strings.Builder
	if since.IsZero() {
		b.WriteString("The first message of this site: what waits")
	} else {
		fmt.Fprintf(&b, "What changed since %s", since.Format("2 January 2006"))
	}
	if now.AsOf != "" {
		fmt.Fprintf(&b, "; readings up to %s", now.AsOf)
	}
	b.WriteString(".\n")
	s.head(&b)
	if c.None() {
		b.WriteString("\nNothing new. This message was asked for as a sign of life.\n")
	}
	s.section(&b, "New", c.New)
	moves(&b, fmt.Sprintf("Due within %d days", s.SoonDays), c.Soon)
	moves(&b, "Due dates that moved out of the interval told before", c.Moved)
	settled(&b, c.Settled)
	waiting(&b, now, c.New)
	s.foot(&b, c.New, id)
	return b.String()
}

func (s Settings) head(b *strings.Builder) {
	if s.Invented {
		b.WriteString("Invented data: nobody measured any of this.\n")
	}
}

// section lists matters by who sees to them, those that ask the same together.
func (s Settings) section(b *strings.Builder, title string, list []Fact) {
	n := 0
	for _, d := range []Duty{Lamps, Loggers, Records} {
		var of []Fact
		for _, x := range list {
			if x.Kind.Duty() == d {
				of = append(of, x)
			}
		}
		if len(of) == 0 {
			continue
		}
		fmt.Fprintf(b, "\n%s, for %s\n", title, s.who(d))
		for len(of) > 0 {
			x := of[0]
			var where []string
			of = slices.DeleteFunc(of, func(y Fact) bool {
				alike := y.Kind == x.Kind && y.What == x.What && y.Do == x.Do
				if alike {
					if n++; n <= mostListed {
						where = append(where, oneLine(y.Where))
					}
				}
				return alike
			})
			if len(where) == 0 {
				continue
			}
			fmt.Fprintf(b, "- %s: %s\n", strings.Join(where, ", "), oneLine(x.What))
			if x.Do != "" {
				fmt.Fprintf(b, "  do: %s\n", oneLine(x.Do))
			}
		}
	}
	more(b, len(list))
}

func (s Settings) who(d Duty) string {
	if w := s.Who[d]; w != "" {
		return w
	}
	return map[Duty]string{
		Lamps: "whoever goes up to the lamps", Loggers: "whoever sees to the loggers", Records: "whoever keeps the logbook",
	}[d]
}

func moves(b *strings.Builder, title string, list []Move) {
	if len(list) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n", title)
	for i, m := range list {
		if i == mostListed {
			break
		}
		fmt.Fprintf(b, "- %s: %s", oneLine(m.Fixture), m.Now.words())
		if m.Before.Due != "" {
			fmt.Fprintf(b, "; told before: %s", m.Before.words())
		}
		b.WriteString("\n")
	}
	more(b, len(list))
}

func (l Lamp) words() string {
	switch {
	case l.Lo == "":
		return l.Due
	case l.Hi == "":
		return fmt.Sprintf("%s (not before %s)", l.Due, l.Lo)
	}
	return fmt.Sprintf("%s (%s to %s)", l.Due, l.Lo, l.Hi)
}

func settled(b *strings.Builder, list []Fact) {
	if len(list) == 0 {
		return
	}
	b.WriteString("\nSettled\n")
	for i, x := range list {
		if i == mostListed {
			break
		}
		fmt.Fprintf(b, "- %s: %s\n", oneLine(x.Where), x.Kind)
	}
	more(b, len(list))
}

// waiting counts what was told before and still waits.
func waiting(b *strings.Builder, now Facts, fresh []Fact) {
	old := map[Kind]int{}
	for _, x := range now.List {
		old[x.Kind]++
	}
	for _, x := range fresh {
		old[x.Kind]--
	}
	var parts []string
	for _, k := range kinds {
		if old[k] > 0 && k != Files {
			parts = append(parts, fmt.Sprintf("%d %s", old[k], k))
		}
	}
	if len(parts) > 0 {
		fmt.Fprintf(b, "\nStill waiting: %s.\n", strings.Join(parts, ", "))
	}
}

func more(b *strings.Builder, n int) {
	if n > mostListed {
		fmt.Fprintf(b, "- and %d more; the pages list all\n", n-mostListed)
	}
}

func (s Settings) foot(b *strings.Builder, list []Fact, id string) {
	if s.Link != "" {
		fmt.Fprintf(b, "\nPages: %s\n", s.Link)
	}
	for _, x := range list {
		if x.Kind.Duty() == Lamps {
			b.WriteString("\n" + caution + "\n")
			break
		}
	}
	fmt.Fprintf(b, "\nMessage %s; one that comes twice has the same number.\n", id)
}

// caution stands where somebody is sent up to a lamp.
const caution = `Before anyone opens a fixture or its gear: isolate the circuit, lock it out and prove it dead; a
switch or timer is not isolation, and capacitors hold charge. Let lamps cool; a discharge lamp that
went out can re-strike by itself. Lamps with mercury stay closed and go where the law asks. Mind
ultraviolet light from broken outer bulbs, bright LEDs, and work at height. Local codes and licensed
practice decide.`

// oneLine keeps what came out of files from looking like lines of ours.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < 0x20 || r >= 0x7f && r < 0xa0 {
			return ' '
		}
		return r
	}, s)
}
