package http

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"

	"github.com/theory/jsonpath"
)

// answer is where an answer leads.
type answer struct {
	next   *url.URL // nil: no more pages
	cursor string
}

// watch keeps an answer's text while it passes, where a path has to be looked up
// in it.
type watch struct {
	of   *Source
	text bytes.Buffer
}

// mostJSON bounds the answers in which a path is looked up.
const mostJSON = 16 << 20

func (w *watch) path() string {
	if p := w.of.spec.Cursor.Path; p != "" {
		return p
	}
	if p := w.of.spec.Next; p != "link" {
		return p
	}
	return ""
}

func (w *watch) through(r io.Reader) io.Reader {
	if w.path() == "" {
		return r
	}
	return &tee{r, &w.text}
}

type tee struct {
	r io.Reader
	w *bytes.Buffer
}

func (t *tee) Read(p []byte) (int, error) {
	n, err := t.r.Read(p)
	if t.w.Len()+n <= mostJSON {
		t.w.Write(p[:n])
	}
	return n, err
}

// answer says where the answer leads.
func (w *watch) answer(resp *http.Response, at *url.URL) (answer, error) {
	var a answer
	where := ""
	switch {
	case w.of.spec.Next == "link":
		where = nextLink(resp.Header.Values("Link"))
	case w.path() != "":
		text, err := lookUp(w.path(), w.text.Bytes())
		if err != nil {
			return a, err
		}
		if w.of.spec.Cursor.Path != "" {
			a.cursor = text
			return a, nil
		}
		where = text
	}
	if where == "" {
		return a, nil
	}
	next, err := at.Parse(where)
	if err != nil {
		return a, fmt.Errorf("the next page of %s is no address", at.Host)
	}
	if !sameHost(next, at) {
		return a, fmt.Errorf("the next page of %s is said to lie at %s; a page on another host is not asked for",
			at.Host, next.Host)
	}
	if next.String() == at.String() {
		return a, fmt.Errorf("the next page of %s is the same page again", at.Host)
	}
	a.next = next
	return a, nil
}

// lookUp finds the text or number at a path; "" where there is none or null.
func lookUp(path string, text []byte) (string, error) {
	var doc any
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.UseNumber()
	if err := dec.Decode(&doc); err != nil {
		return "", fmt.Errorf("the answer is not JSON, in which %s could be looked up: %w", path, err)
	}
	nodes := jsonpath.MustParse(path).Select(doc) // checked when the description was read
	if len(nodes) == 0 || nodes[0] == nil {
		return "", nil
	}
	switch v := nodes[0].(type) {
	case string:
		return v, nil
	case json.Number:
		return v.String(), nil
	}
	return "", fmt.Errorf("%s is neither text nor a number in the answer", path)
}

// nextLink finds the address with rel=next in Link headers (RFC 8288).
func nextLink(headers []string) string {
	for _, h := range headers {
		for h != "" {
			_, rest, ok := strings.Cut(h, "<")
			if !ok {
				break
			}
			target, params, ok := strings.Cut(rest, ">")
			if !ok {
				break
			}
			own := params
			if i := strings.IndexByte(params, '<'); i >= 0 {
				own = params[:i]
			}
			for p := range strings.SplitSeq(own, ";") {
				k, v, _ := strings.Cut(strings.Trim(p, " ,"), "=")
				if strings.EqualFold(strings.TrimSpace(k), "rel") && hasWord(strings.Trim(strings.TrimSpace(v), `"`), "next") {
					return target
				}
			}
			h = params
		}
	}
	return ""
}

func hasWord(s, word string) bool {
	for _, w := range strings.Fields(s) {
		if strings.EqualFold(w, word) {
			return true
		}
	}
	return false
}
