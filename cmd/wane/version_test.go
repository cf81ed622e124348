package main

import (
	"regexp"
	"testing"
)

func TestVersion(t *testing.T) {
	out, _, code := wane(t, "--version")
	if !regexp.MustCompile(`^wane version \S.*, archive format [0-9]+, go1\.`).MatchString(out) || code != exitDone {
		t.Errorf("%d %q", code, out)
	}
}
