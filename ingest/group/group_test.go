package group

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wane/ingest/problem"
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

// A site whose settings are in a bucket has a folder in the group's.
func TestParseOfASiteInABucket(t *testing.T) {
	c, found := Parse([]byte("name: g\nsites: [{name: a, folder: 's3://lamps/a'}, {name: b, folder: b}]\n" +
		"store: {endpoint: 'https://o.example', region: r, access_key: 'env:K', secret_key: 'env:S'}"))
	if len(found) > 0 || !c.Sites[0].Far() || c.Sites[1].Far() {
		t.Fatalf("%+v %v", c, found)
	}
	if at := Folder("g").Of(c.Sites[0]); at != filepath.Join("g", "sites", "a") {
		t.Error(at)
	}
	for text, want := range map[string]string{
		"sites: [{name: a, folder: 's3://b/c'}]":                                         "is not a place in a bucket",
		"sites: [{name: a, folder: 'ftp://b/c'}]":                                        "is not a folder",
		"sites: [{name: a, folder: 's3://lamps/a'}]":                                     "nothing says of which object store",
		"sites: [{name: a, folder: 's3://lamps/'}]":                                      "is not a place in a bucket",
		"sites: [{name: a, folder: sites/b}, {name: b, folder: 's3://lamps/b'}]":         "the folder of sites[0] too",
		"sites: [{name: b, folder: 's3://lamps/b'}, {name: a, folder: sites/b}]":         "the folder of sites[0] too",
		"sites: [{name: a, folder: 's3://lamps/b'}, {name: b, folder: 's3://lamps/b/'}]": "the folder of sites[0] too",
		"store: {endpoint: 'http://o.example'}":                                          "store.endpoint: all of it would cross",
		"store: {region: r}":                                                             "store.endpoint",
		"store: {endpoint: 'https://o.example', bucket: b}":                              "store.bucket: each site's folder",
		"store: {endpoint: 'https://o.example', access_key: 'env:K'}":                    "go together",
	} {
		lists(t, "name: g\n"+text, want)
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
		"name: g\nsites: [{name: a, folder: x}]\nzone: UTC":                                          "zone",
		"name: g\nsites: [{name: a, folder: x, colour: red}]":                                        "colour",
		"name: g\nsites: {name: a}":                                                                  "sites",
		"name: g\nsites: [{name: a, folder: x}]\nown_lots: 3":                                        "own_lots",
		"name: g\nsites: [{name: a, folder: x}]\nforecast: {lamp_types: {led: {slope: {mean: -1}}}}": "slope.mean",
		"name: g\nsites: [" + strings.Repeat("{name: a, folder: x},", MostSites+1) + "]":             "more than the 1000",
	} {
		lists(t, text, want)
	}
}

func lists(t *testing.T, text, want string) {
	t.Helper()
	_, found := Parse([]byte(text))
	if !slices.ContainsFunc(found, func(p problem.Problem) bool {
		return strings.Contains(p.String(), want) && (p.Do != "" || p.Line > 0)
	}) {
		t.Errorf("%.80q: %v, want %q", text, found, want)
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
