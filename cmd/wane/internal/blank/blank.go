// Package blank holds the empty, commented site folder that `wane new` writes.
package blank

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wane/ingest/site"
)

//go:embed all:files
var files embed.FS

// folders that hold nothing yet.
var folders = []string{"inbox", "archive", "reports", "sources"}

// Write makes the site folder dir, which must not exist or be empty, and fills
// in the site's name.
func Write(dir, name, zone string) error {
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("make site folder: %w", err)
	}
	if len(entries) > 0 {
		return fmt.Errorf("%s is not empty; name a folder that does not exist yet", dir)
	}
	for _, f := range folders {
		if err := os.MkdirAll(filepath.Join(dir, f), 0o755); err != nil {
			return fmt.Errorf("make site folder: %w", err)
		}
	}
	return fs.WalkDir(files, "files", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := files.ReadFile(path)
		if err != nil {
			return err
		}
		text := strings.NewReplacer("{{name}}", quote(name), "{{zone}}", quote(zone)).Replace(string(data))
		to := filepath.Join(dir, filepath.FromSlash(strings.TrimPrefix(path, "files/")))
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return fmt.Errorf("make site folder: %w", err)
		}
		return site.WriteFile(to, []byte(text))
	})
}

// quote makes a text a double-quoted YAML scalar.
func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`, "\t", `\t`).Replace(s) + `"`
}
