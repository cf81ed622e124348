package archive

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// sidecar is what is written beside an original: all that is known of it and
// cannot be found by reading it again.
type sidecar struct {
	SHA256         string    `json:"sha256"`
	Name           string    `json:"name"`
	Size           int64     `json:"size"`
	Modified       time.Time `json:"modified"`
	ImportedAt     time.Time `json:"taken_in"`
	Sequence       int64     `json:"sequence"`
	Source         string    `json:"source,omitempty"`
	DescriptionSHA string    `json:"description_sha256,omitempty"`
}

func sidecarOf(f *File) sidecar {
	return sidecar{f.SHA256, f.Name, f.Size, f.Modified, f.ImportedAt, f.Sequence, f.Source, f.DescriptionSHA}
}

func sidecarsOf(files []File) []sidecar {
	out := make([]sidecar, len(files))
	for i := range files {
		out[i] = sidecarOf(&files[i])
	}
	return out
}

func (s *sidecar) check() error {
	if len(s.SHA256) != 64 || s.Sequence < 1 || len(s.DescriptionSHA) != 0 && len(s.DescriptionSHA) != 64 {
		return errors.New("it does not speak of an original")
	}
	return nil
}

// encode gives the text of a sidecar in a file of its own, or of a list of them.
func encode[T sidecar | []sidecar](s T) []byte {
	b, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		panic(fmt.Sprintf("a sidecar is plain data: %v", err))
	}
	return append(b, '\n')
}

// The sidecars of an import are one list, called by the first sequence in it, so
// that a list which never counted is in the way of none. In format 1 each was
// a file beside its original.
var listsDir = filepath.Join(originalsDir, "takes")

func listPath(first int64) string { return filepath.Join(listsDir, fmt.Sprintf("%08d.json", first)) }

// firstOf gives the first sequence of a list by its name.
func firstOf(name string) (first int64, ok bool) {
	first, err := strconv.ParseInt(strings.TrimSuffix(name, ".json"), 10, 64)
	return first, err == nil && listPath(first) == filepath.Join(listsDir, name)
}

func sidePath(sha string) string { return originalPath(sha) + ".json" }

// sides are the sidecars of an archive.
type sides struct {
	of    map[string]sidecar // by the hash of the original
	own   map[string]bool    // those in a file of their own, sound or not
	lists map[int64][]byte   // by the first sequence, as its name says
	bad   map[string]error   // by path
}

// readSides reads all sidecars but those of lists that begin after counted.
func readSides(dir string, counted int64) (*sides, error) {
	s := &sides{map[string]sidecar{}, map[string]bool{}, map[int64][]byte{}, map[string]error{}}
	err := eachOriginal(dir, func(sha string, side bool) error {
		if !side {
			return nil
		}
		s.own[sha] = true
		c, err := readSidecar(dir, sha)
		if err != nil {
			s.bad[sidePath(sha)] = err
			return nil
		}
		s.of[sha] = c
		return nil
	})
	if err != nil {
		return nil, err
	}
	names, err := os.ReadDir(filepath.Join(dir, listsDir))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	for _, d := range names {
		first, ok := firstOf(d.Name())
		if !ok || first > counted {
			continue
		}
		s.readList(dir, first)
	}
	return s, nil
}

var errNotItsName = errors.New("its sequence numbers are not those of its name")

func (s *sides) readList(dir string, first int64) {
	path := listPath(first)
	b, err := os.ReadFile(filepath.Join(dir, path))
	s.lists[first] = b
	var list []sidecar
	if err == nil {
		err = json.Unmarshal(b, &list)
	}
	for i := range list {
		if err == nil {
			err = list[i].check()
		}
		if err == nil && list[i].Sequence != first+int64(i) {
			err = errNotItsName
		}
	}
	if err == nil && len(list) == 0 {
		err = errors.New("it is empty")
	}
	if err != nil {
		s.bad[path] = fmt.Errorf("list %s: %w", filepath.ToSlash(path), err)
		return
	}
	for _, c := range list {
		s.of[c.SHA256] = c
		delete(s.own, c.SHA256) // what lies beside the original, if anything, is of a killed run
	}
}

func readSidecar(dir, sha string) (sidecar, error) {
	var s sidecar
	b, err := os.ReadFile(filepath.Join(dir, sidePath(sha)))
	if err == nil {
		err = json.Unmarshal(b, &s)
	}
	if err == nil {
		err = s.check()
	}
	if err == nil && s.SHA256 != sha {
		err = errors.New("it does not speak of its original")
	}
	if err != nil {
		return s, fmt.Errorf("sidecar %s: %w", filepath.ToSlash(sidePath(sha)), err)
	}
	return s, nil
}

// missing gives the files, by path, that are to be written so that the sidecars
// are as wanted, which come in order of sequence. What lies in a file of its own
// stays there.
func (s *sides) missing(want []sidecar) map[string][]byte {
	out, _ := s.compare(want)
	return out
}

// compare gives what is missing, and the lists, by path, that tell of nothing
// wanted: copies under another name, or another archive's.
func (s *sides) compare(want []sidecar) (out map[string][]byte, extra []string) {
	out = map[string][]byte{}
	wanted := map[int64]bool{}
	var list []sidecar
	end := func() {
		if len(list) == 0 {
			return
		}
		first := list[0].Sequence
		wanted[first] = true
		if b := encode(list); !bytes.Equal(b, s.lists[first]) {
			out[listPath(first)] = b
		}
		list = nil
	}
	for _, w := range want {
		if s.own[w.SHA256] {
			if s.of[w.SHA256] != w {
				out[sidePath(w.SHA256)] = encode(w)
			}
			continue
		}
		if n := len(list); n > 0 {
			_, begins := s.lists[w.Sequence]
			begins = begins && !errors.Is(s.bad[listPath(w.Sequence)], errNotItsName) // a copy of another list
			if last := list[n-1]; begins || last.Sequence+1 != w.Sequence || !last.ImportedAt.Equal(w.ImportedAt) {
				end()
			}
		}
		list = append(list, w)
	}
	end()
	for _, first := range sortedKeys(s.lists) {
		if !wanted[first] {
			extra = append(extra, listPath(first))
		}
	}
	return out, extra
}
