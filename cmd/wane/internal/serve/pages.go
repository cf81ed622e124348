package serve

import (
	"io/fs"
	"net/http"
	"os"
	"path"
	"strings"
	"syscall"
)

// Pages serves the regular files of a folder, and its index.html for a folder
// in it. The folder is opened anew for each request: a report may be replaced,
// or not be there yet.
func Pages(dir string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		root, err := os.OpenRoot(dir)
		if err != nil {
			http.Error(w, "there are no pages yet; `wane nightly` makes them", http.StatusNotFound)
			return
		}
		defer root.Close()
		name := strings.TrimPrefix(path.Clean("/"+r.URL.Path), "/")
		if name == "" || strings.HasSuffix(r.URL.Path, "/") {
			name = path.Join(name, "index.html")
		}
		f, info := open(root, name)
		if f == nil {
			http.NotFound(w, r)
			return
		}
		defer f.Close()
		http.ServeContent(w, r, info.Name(), info.ModTime(), f)
	})
}

// open opens a regular file. Hidden ones are pages in the making; links are not
// followed, wherever they point; what is not regular might wait for ever.
func open(root *os.Root, name string) (*os.File, fs.FileInfo) {
	at := ""
	for part := range strings.SplitSeq(name, "/") {
		at = path.Join(at, part)
		info, err := root.Lstat(at)
		if err != nil || strings.HasPrefix(part, ".") || info.Mode()&fs.ModeSymlink != 0 {
			return nil, nil
		}
	}
	info, err := root.Lstat(name)
	if err != nil || !info.Mode().IsRegular() {
		return nil, nil
	}
	// Another file may have come under the name meanwhile, a pipe even.
	f, err := root.OpenFile(name, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, nil
	}
	if now, err := f.Stat(); err != nil || !now.Mode().IsRegular() {
		f.Close()
		return nil, nil
	}
	return f, info
}
