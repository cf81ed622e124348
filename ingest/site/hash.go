package site

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"sort"
)

// Hash is that of all that people wrote: site.yaml and the register, as they
// stand on disk. What is stored of answers carries it, to tell whether it still
// holds.
func (f Folder) Hash() (string, error) {
	paths, err := filepath.Glob(f.Path("register", "*.csv"))
	if err != nil {
		return "", err
	}
	paths = append(paths, f.Path(ConfigFile))
	sort.Strings(paths)
	h := sha256.New()
	for _, p := range paths {
		b, err := os.ReadFile(p)
		if err != nil {
			return "", fmt.Errorf("read what the site says of itself: %w", err)
		}
		fmt.Fprintf(h, "%s %d\n", filepath.Base(p), len(b))
		h.Write(b)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
