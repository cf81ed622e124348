// Package secret reads passwords, tokens and keys from where a description says
// they are kept, and keeps them out of what people see.
package secret

import (
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"wane/ingest/source"
)

// Vault reads the secrets of one source, and remembers them so that Hide finds
// them again. It may be used by several goroutines.
type Vault struct {
	dir   string
	mu    sync.Mutex
	known []string
}

// New makes a vault for a site folder, below which relative files lie.
func New(dir string) *Vault { return &Vault{dir: dir} }

// Read gives a secret; "" where none is named. The error says where it was
// looked for, never what was found.
func (v *Vault) Read(s source.Secret) (string, error) {
	var text string
	switch {
	case s.IsZero():
		return "", nil
	case s.Env != "":
		text = os.Getenv(s.Env)
		if text == "" {
			return "", fmt.Errorf("the environment variable %s is not set; it must hold the secret", s.Env)
		}
	default:
		path := s.File
		if !filepath.IsAbs(path) {
			path = filepath.Join(v.dir, path)
		}
		b, err := readOwn(path, s.File)
		if err != nil {
			return "", err
		}
		text = strings.TrimRight(string(b), "\r\n")
		if text == "" {
			return "", fmt.Errorf("the file %s is empty; it must hold the secret", s.File)
		}
	}
	v.Know(text)
	return text, nil
}

// Know has Hide find a text that holds a secret in another form, such as that of
// basic authentication.
func (v *Vault) Know(text string) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if slices.Contains(v.known, text) {
		return
	}
	v.known = append(v.known, text)
	// the longest first, so that none is left in part
	slices.SortFunc(v.known, func(a, b string) int { return len(b) - len(a) })
}

// readOwn reads a file that only its owner may read.
func readOwn(path, said string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		var p *fs.PathError
		if errors.As(err, &p) {
			err = p.Err
		}
		return nil, fmt.Errorf("read the secret in %s: %w", said, err)
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return nil, fmt.Errorf("read the secret in %s: %w", said, err)
	}
	if st.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("others may read the secret in %s (mode %04o); chmod 600 it", said, st.Mode().Perm())
	}
	b := make([]byte, 64<<10)
	n, _ := f.Read(b)
	return b[:n], nil
}

// Hide takes every secret that is known out of a text: as it is, and as it stands
// in addresses.
func (v *Vault) Hide(text string) string {
	v.mu.Lock()
	defer v.mu.Unlock()
	for _, s := range v.known {
		for _, form := range []string{s, url.QueryEscape(s), url.PathEscape(s)} {
			text = strings.ReplaceAll(text, form, "(secret)")
		}
	}
	return text
}

// HideError is err with its words hidden; what it wraps stays for errors.Is.
func (v *Vault) HideError(err error) error {
	if err == nil {
		return nil
	}
	if said := v.Hide(err.Error()); said != err.Error() {
		return &hidden{said: said, err: err}
	}
	return err
}

type hidden struct {
	said string
	err  error
}

func (h *hidden) Error() string { return h.said }

// Is lets a caller ask what it was without getting at the words.
func (h *hidden) Is(target error) bool { return errors.Is(h.err, target) }
