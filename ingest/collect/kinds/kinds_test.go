package kinds

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"wane/ingest/collect"
	"wane/ingest/collect/secret"
	"wane/ingest/source"
)

// Every kind that a description may have is made, by the examples of the page that
// lists the keys.
func TestEveryKindIsMade(t *testing.T) {
	made := map[string]bool{}
	kind := Maker()
	for i, part := range strings.Split(source.Reference(), "```") {
		text, ok := strings.CutPrefix(part, "yaml\n")
		if i%2 == 0 || !ok {
			continue
		}
		d, err := source.Load([]byte(text), "x")
		if err != nil {
			t.Fatal(err)
		}
		k, err := kind(collect.Setting{Description: d, Dir: t.TempDir(), Vault: secret.New(""), Now: time.Now})
		if err != nil {
			t.Errorf("%s: %v", d.Collect.Kind(), err)
			continue
		}
		made[d.Collect.Kind()] = true
		_, polls := k.(collect.Poller)
		_, listens := k.(collect.Listener)
		if polls == listens || polls != d.Collect.Polls() {
			t.Errorf("%s: polls %v, listens %v", d.Collect.Kind(), polls, listens)
		}
	}
	kinds := reflect.TypeFor[source.Collect]()
	for i := range kinds.NumField() {
		if f := kinds.Field(i); f.Type.Kind() == reflect.Pointer && !made[f.Tag.Get("yaml")] {
			t.Errorf("no example of %s, or it is not made", f.Tag.Get("yaml"))
		}
	}
}
