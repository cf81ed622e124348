package ingest

import (
	"strings"
	"testing"
)

// A file whose reading fails, as on a worn-out memory card, is left with words
// and the rest of the round goes on. The kernel's picture of a process's memory
// is a regular file that cannot be read from its beginning.
func TestFileThatCannotBeRead(t *testing.T) {
	folder := newSite(t, map[string]string{"rig-1.csv": "time,fixture,ppfd,volts\n2026-11-24 23:00,f1,812.5,231.4\n"})
	put(t, folder.Path("sources", "card.yaml"), strings.NewReplacer("name: rig", "name: card", "rig-*.csv*",
		"mem").Replace(rig)+"from: [/proc/self/mem]\n")
	s := importRound(t, folder, Options{})
	if s.All.Stored != 2 || len(s.Left) != 1 || !strings.Contains(s.Left[0], "input/output error") {
		t.Errorf("%+v", s)
	}
	sound(t, folder)
}
