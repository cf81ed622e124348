package source

import (
	"flag"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write REFERENCE.md anew")

// The page of all keys is made from the table that the tests hold against the
// types: go test ./ingest/source -run Reference -update writes it.
func TestReferenceIsCurrent(t *testing.T) {
	want := Reference()
	if *update {
		if err := os.WriteFile("REFERENCE.md", []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile("REFERENCE.md")
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != want {
		t.Error("REFERENCE.md is not what Keys says; run go test ./ingest/source -run Reference -update")
	}
}

// Every example of the page loads.
func TestReferenceExamplesLoad(t *testing.T) {
	n := 0
	for i, part := range strings.Split(Reference(), "```") {
		text, ok := strings.CutPrefix(part, "yaml\n")
		if i%2 == 0 || !ok {
			continue
		}
		n++
		if _, err := Load([]byte(text), "REFERENCE.md"); err != nil {
			t.Errorf("%v\n%s", err, text)
		}
	}
	if n < 7 {
		t.Errorf("%d examples", n)
	}
}
