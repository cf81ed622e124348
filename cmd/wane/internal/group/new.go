package group

import (
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wane/ingest/group"
	"wane/ingest/site"
)

//go:embed group.yaml
var blank string

// New makes the group folder dir, which must not exist or be empty, and fills in the
// group's name.
func New(dir, name string) error {
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("make group folder: %w", err)
	}
	if len(entries) > 0 {
		return fmt.Errorf("%s is not empty; name a folder that does not exist yet", dir)
	}
	if name == "" {
		name = filepath.Base(filepath.Clean(dir))
	}
	for _, f := range []string{"archive", "reports"} {
		if err := os.MkdirAll(filepath.Join(dir, f), 0o755); err != nil {
			return fmt.Errorf("make group folder: %w", err)
		}
	}
	text := strings.Replace(blank, "{{name}}", fmt.Sprintf("%q", name), 1)
	return site.WriteFile(filepath.Join(dir, group.ConfigFile), []byte(text))
}
