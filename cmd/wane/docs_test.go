package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"wane/ingest/problem"
)

// Every wane command that the documents show exists, with the flags shown.
func TestDocumentsShowRealCommands(t *testing.T) {
	root := newRoot(env{})
	pages := []string{"README.md", "DEVELOPERS.md", "ingest/archive/LAYOUT.md", "schedules/README.md"}
	shown := 0
	for _, page := range pages {
		text, err := os.ReadFile(filepath.Join("..", "..", page))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile("(?m)(?:\\./|`|run ./cmd/)wane ([^`\n#]*)").FindAllStringSubmatch(string(text),
			-1) {
			words := strings.Fields(m[1])
			if len(words) == 0 || strings.HasPrefix(words[0], "-") {
				continue
			}
			shown++
			c, _, err := root.Find(words[:1])
			if err != nil || c == root {
				t.Errorf("%s shows `wane %s`: no such command", page, m[1])
				continue
			}
			if sub, _, err := root.Find(words); err == nil {
				c = sub
			}
			for _, w := range words {
				name, isFlag := strings.CutPrefix(w, "--")
				name, _, _ = strings.Cut(name, "=")
				if isFlag && c.Flags().Lookup(name) == nil && c.InheritedFlags().Lookup(name) == nil {
					t.Errorf("%s shows `wane %s`: %s has no flag --%s", page, m[1], c.CommandPath(), name)
				}
			}
		}
	}
	if shown < 12 {
		t.Errorf("only %d commands found in the documents", shown)
	}
}

// Every command says what it is for, and the statuses with which it ends.
func TestEveryCommandHelps(t *testing.T) {
	var visit func(c *cobra.Command)
	visit = func(c *cobra.Command) {
		if c.Short == "" {
			t.Errorf("%s says not what it is for", c.CommandPath())
		}
		if c.HasParent() && !c.Parent().HasParent() && !strings.Contains(c.Long, "Exit status:") {
			t.Errorf("%s says not how it ends", c.CommandPath())
		}
		for _, sub := range c.Commands() {
			visit(sub)
		}
	}
	visit(newRoot(env{}))
}

// The exit statuses are read by schedulers.
func TestExitCodes(t *testing.T) {
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	for _, c := range []struct {
		ctx  context.Context
		err  error
		code int
	}{
		{context.Background(), nil, 0},
		{context.Background(), errors.New("disk full"), 1},
		{context.Background(), usagef("no such flag"), 2},
		{context.Background(), fmt.Errorf("check: %w", problem.List{{File: "site.yaml", What: "wrong"}}), 2},
		{context.Background(), person([]string{"one lamp is dark"}), 3},
		{context.Background(), person(nil), 0},
		{cancelled, context.Canceled, 130},
		{context.Background(), context.Canceled, 1},
	} {
		if got := exitCode(c.ctx, c.err, io.Discard); got != c.code {
			t.Errorf("%v ends with %d, want %d", c.err, got, c.code)
		}
	}
}
