package site

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // zones of a machine that has none

	"wane/ingest/internal/strictyaml"
	"wane/ingest/problem"
	"wane/transform/fleet"
)

// ConfigFile is the name of the configuration in the site folder.
const ConfigFile = "site.yaml"

// Parse reads and checks site.yaml. Every mistake is listed; the Config is
// usable only where the list is empty. cronLine says what is wrong with a cron
// line and what to do: that is the schedules' affair.
func Parse(data []byte, cronLine func(string) error) (Config, problem.List) {
	c := Defaults()
	doc, found := strictyaml.Decode(ConfigFile, data, &c)
	if !doc.Parsed() {
		return c, found
	}
	bad := func(path, what, do string) { found = append(found, doc.At(path, what, do)) }

	if c.Name == "" {
		bad("name", "the site has no name", "write `name: …`; it stands on every report")
	}
	if c.Zone == "" {
		bad("zone", "the site has no time zone", "write an IANA name such as `zone: Europe/Amsterdam`")
	} else if loc, err := time.LoadLocation(c.Zone); err != nil || c.Zone == "Local" {
		bad("zone", fmt.Sprintf("%q is not a known time zone", c.Zone), "write an IANA name such as Europe/Amsterdam")
	} else {
		c.Location = loc
	}
	if (c.Latitude == nil) != (c.Longitude == nil) {
		bad("latitude", "latitude and longitude go together", "write both or neither")
	}
	if c.Latitude != nil && (*c.Latitude < -90 || *c.Latitude > 90) {
		bad("latitude", fmt.Sprintf("%g is not within -90 to 90", *c.Latitude), "write degrees north")
	}
	if c.Longitude != nil && (*c.Longitude < -180 || *c.Longitude > 180) {
		bad("longitude", fmt.Sprintf("%g is not within -180 to 180", *c.Longitude), "write degrees east")
	}
	if !(c.Interval > 0 && c.Interval < 1) {
		bad("interval", fmt.Sprintf("%g is not between 0 and 1", c.Interval), "write a probability such as 0.8")
	}
	c.checkThresholds(bad)
	c.checkRooms(bad)
	c.checkWarranty(bad)
	c.checkSurvey(bad)
	c.checkSupply(bad)
	c.checkPlan(doc)
	c.checkTell(bad, cronLine)
	c.checkArchive(bad)
	for _, p := range c.Gate.Validate() {
		bad("gate."+p.Path, p.What, p.Do)
	}
	for _, p := range c.Corrections.Validate() {
		bad("corrections."+p.Path, p.What, p.Do)
	}
	for _, p := range c.Baseline.Validate() {
		bad("baseline."+p.Path, p.What, p.Do)
	}
	if err := c.Forecast.Validate(); err != nil {
		bad("forecast", err.Error(), "see the commented section of a new site.yaml")
	}
	for _, l := range []struct{ path, line string }{
		{"schedules.nightly", c.Schedules.Nightly}, {"schedules.report", c.Schedules.Report},
		{"schedules.yearly", c.Schedules.Yearly},
	} {
		if l.path == "schedules.report" && l.line == "" {
			continue // each night
		}
		if err := cronLine(l.line); err != nil {
			bad(l.path, err.Error(), "")
		}
	}
	found.Sort()
	return c, found
}

type report func(path, what, do string)

func (c *Config) checkThresholds(bad report) {
	share := func(path string, v float64) {
		if !(v > 0 && v < 1) {
			bad(path, fmt.Sprintf("%g is not between 0 and 1", v), "write a share such as 0.9")
		}
	}
	share("thresholds.default", c.Thresholds.Default)
	for t, v := range c.Thresholds.LampTypes {
		path := "thresholds.lamp_types." + string(t)
		if !slices.Contains(fleet.LampTypes, t) {
			bad(path, fmt.Sprintf("%q is not a lamp type", t), "known: "+join(fleet.LampTypes))
		}
		share(path, v)
	}
	for room, th := range c.Thresholds.Rooms {
		path := "thresholds.rooms." + room
		switch {
		case th.Level != 0 && th.PPFD != 0:
			bad(path, "both level and ppfd are given", "keep one")
		case th.PPFD < 0:
			bad(path+".ppfd", fmt.Sprintf("%g is negative", th.PPFD), "write umol/m2/s")
		case th.PPFD == 0:
			share(path+".level", th.Level)
		}
	}
}

func (c *Config) checkRooms(bad report) {
	for name, r := range c.Rooms {
		path := "rooms." + name
		if r.On != "" {
			if _, err := time.Parse("15:04", r.On); err != nil {
				bad(path+".on", fmt.Sprintf("%q is not a clock time", r.On), "write hours and minutes such as \"06:00\"")
			}
		}
		if r.Hours < 0 || r.Hours > 24 {
			bad(path+".hours", fmt.Sprintf("%g hours do not fit in a day", r.Hours), "write 0 to 24")
		}
		if r.Daylight && c.Latitude == nil {
			bad(path+".daylight", "daylight needs the site's place", "write latitude and longitude at the top of the file")
		}
	}
}

func (c *Config) checkWarranty(bad report) {
	check := func(path string, w WarrantyTerms) {
		if !(w.Hours > 0) {
			bad(path+".hours", fmt.Sprintf("%g is not a number of run-hours", w.Hours),
				"write the run-hours for which the level was promised")
		}
		if !(w.Level > 0 && w.Level < 1) {
			bad(path+".level", fmt.Sprintf("%g is not between 0 and 1", w.Level),
				"write the promised share of the first output, such as 0.9")
		}
	}
	for m, w := range c.Warranty.Models {
		check("warranty.models."+m, w)
	}
	for t, w := range c.Warranty.LampTypes {
		path := "warranty.lamp_types." + string(t)
		if !slices.Contains(fleet.LampTypes, t) {
			bad(path, fmt.Sprintf("%q is not a lamp type", t), "known: "+join(fleet.LampTypes))
		}
		check(path, w)
	}
}

// Folder is a site folder on disk.
type Folder string

// Path joins elements below the folder.
func (f Folder) Path(elem ...string) string {
	return filepath.Join(append([]string{string(f)}, elem...)...)
}

// Load reads and checks the folder's site.yaml. The error is a problem.List
// where the file was read but cannot be used.
func (f Folder) Load(cronLine func(string) error) (Config, error) {
	data, err := os.ReadFile(f.Path(ConfigFile))
	if os.IsNotExist(err) {
		return Config{}, problem.List{{File: ConfigFile, What: fmt.Sprintf("there is none in %s", f),
			Do: "name the site folder with --site, or make one with `wane new DIR`"}}
	}
	if err != nil {
		return Config{}, fmt.Errorf("read %s: %w", ConfigFile, err)
	}
	c, found := Parse(data, cronLine)
	return c, found.Err()
}

func join[T ~string](words []T) string {
	s := make([]string, len(words))
	for i, w := range words {
		s[i] = string(w)
	}
	return strings.Join(s, ", ")
}
