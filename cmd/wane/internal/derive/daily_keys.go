package derive

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sort"
	"strings"
	"time"

	"wane/transform/fleet"
)

// dayKeys tells what each day of table daily is made from.
type dayKeys struct {
	site    Site
	base    string // what every day depends on
	facts   factChain
	digests map[int32]digest
}

func newDayKeys(s Site, digests map[int32]digest) *dayKeys {
	return &dayKeys{
		site: s, digests: digests, facts: chainOf(s.Register),
		base: fmt.Sprintf("%s\x00%s\x00%s\x00%+v\x00%s", TableDaily, Version, s.Config.Location, s.Config.Gate, sky(s)),
	}
}

// keyDigits is the length of a day's key.
const keyDigits = 16

// noReadings is the key of a day without readings, which has no rows.
var noReadings = strings.Repeat("-", keyDigits)

// of gives a day's key: a hash of its readings and those of its run-in, and of
// what the register, as of its end, and site.yaml say.
func (k *dayKeys) of(day int32) string {
	if k.digests[day].readings == 0 {
		return noReadings
	}
	loc := k.site.Config.Location
	since, to := Start(day-runIn, loc), Start(day+1, loc)
	h := sha256.New()
	fmt.Fprintf(h, "%s\x00%x\x00%s\x00", k.base, k.facts.before(to), decisionFacts(k.site.Register, since, to))
	for d := day - runIn; d <= day; d++ {
		fmt.Fprintf(h, "%d %d\n", k.digests[d].readings, k.digests[d].sum)
	}
	return hex.EncodeToString(h.Sum(nil))[:keyDigits]
}

// ofDays gives the keys of days one after the other: the key of the part that
// holds them, from which the next derivation sees which of them changed.
func (k *dayKeys) ofDays(days []int32) string {
	var b strings.Builder
	for _, d := range days {
		b.WriteString(k.of(d))
	}
	return b.String()
}

// sky is what the roll-up depends on in a greenhouse.
func sky(s Site) string {
	text := ""
	for name, r := range s.Config.Rooms {
		if r.Daylight {
			text += name + " "
		}
	}
	if text == "" {
		return ""
	}
	names := strings.Fields(text)
	sort.Strings(names)
	return fmt.Sprintf("%v at %v %v", names, *s.Config.Latitude, *s.Config.Longitude)
}

// decisionFacts is what was decided about readings of the days [since, to);
// "" where nothing was.
func decisionFacts(r *fleet.Register, since, to time.Time) string {
	var b strings.Builder
	for _, d := range r.Decisions {
		if d.From.Before(to) && !d.To.Before(since) {
			d.Line = 0
			d.From, d.To = d.From.UTC(), d.To.UTC()
			fmt.Fprintf(&b, "%+v\n", d)
		}
	}
	return b.String()
}
