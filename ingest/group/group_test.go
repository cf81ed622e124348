package group

import (
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	c, found := Parse([]byte(`
name: Lowland
sites:
  - {name: north, folder: ../north}
  - {name: south, folder: ../south}
own_lots: true
forecast:
  lamp_types:
    led: {slope: {mean: 0.03, sd: 0.01}}
`))
	if len(found) > 0 || len(c.Sites) != 2 || !c.OwnLots {
		t.Fatalf("%+v %v", c, found)
	}
	led := c.Forecast.LampTypes["led"]
	if led.Slope.Mean != .03 || led.Tau == 0 || len(c.Forecast.LampTypes) < 6 {
		t.Errorf("the table is not laid over what is assumed: %+v", led)
	}
}

// Every mistake is listed with its place and what to do.
func TestParseListsEveryMistake(t *testing.T) {
	for text, want := range map[string]string{
		"sites: [{name: a, folder: x}]": "name: the group has no name",
		"name: g":                       "sites: the group has no site",
		"name: g\nsites: [{name: a/b, folder: x}]":                                                   `"a/b" cannot name a site`,
		"name: g\nsites: [{name: a, folder: x}, {name: A, folder: y}]":                               `"A" is the name of sites[0] too`,
		"name: g\nsites: [{name: a, folder: x}, {name: b, folder: ./x/}]":                            "it is the folder of sites[0] too",
		"name: g\nsites: [{name: a}]":                                                                "the site has no folder",
		"name: g\nsites: [{name: a, folder: 's3://b/c'}]":                                            "is not a folder",
		"name: g\nsites: [{name: a, folder: x}]\nzone: UTC":                                          "zone",
		"name: g\nsites: [{name: a, folder: x, colour: red}]":                                        "colour",
		"name: g\nsites: {name: a}":                                                                  "sites",
		"name: g\nsites: [{name: a, folder: x}]\nown_lots: 3":                                        "own_lots",
		"name: g\nsites: [{name: a, folder: x}]\nforecast: {lamp_types: {led: {slope: {mean: -1}}}}": "slope.mean",
		"name: g\nsites: [" + strings.Repeat("{name: a, folder: x},", MostSites+1) + "]":             "more than the 1000",
	} {
		_, found := Parse([]byte(text))
		ok := false
		for _, p := range found {
			ok = ok || strings.Contains(p.String(), want) && (p.Do != "" || p.Line > 0)
		}
		if !ok {
			t.Errorf("%.80q: %v, want %q", text, found, want)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("name: g\nsites: [{name: a, folder: x}]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, found := Parse(data)
		if len(found) == 0 && (c.Name == "" || len(c.Sites) == 0) {
			t.Errorf("%q passes", data)
		}
	})
}
