package show

import (
	"bytes"
	"io"
	"os"
	"strings"

	"golang.org/x/term"
)

// Terminal writes to a terminal and breaks lines that are longer than it is wide at
// spaces, set in below their own beginning. It is for what people read.
type Terminal struct {
	out   io.Writer
	width int
	rest  []byte // a line whose end has not come yet
}

// OnTerminal is w, broken into lines where it is a terminal.
func OnTerminal(w io.Writer) io.Writer {
	if f, ok := w.(*os.File); ok {
		if n, _, err := term.GetSize(int(f.Fd())); err == nil && n >= 40 {
			return &Terminal{out: w, width: n}
		}
	}
	return w
}

// Width is how many columns the output has; 0 where it is no terminal.
func Width(w io.Writer) int {
	if t, ok := w.(*Terminal); ok {
		return t.width
	}
	return 0
}

// Write breaks whole lines; the rest waits for its end, or for Flush.
func (t *Terminal) Write(p []byte) (int, error) {
	t.rest = append(t.rest, p...)
	for {
		line, rest, ok := bytes.Cut(t.rest, []byte("\n"))
		if !ok {
			return len(p), nil
		}
		_, err := io.WriteString(t.out, strings.Join(broken(string(line), t.width), "\n")+"\n")
		t.rest = append(t.rest[:0], rest...)
		if err != nil {
			return 0, err
		}
	}
}

// Flush writes what w holds of a line whose end did not come.
func Flush(w io.Writer) error {
	t, ok := w.(*Terminal)
	if !ok {
		return nil
	}
	_, err := t.out.Write(t.rest)
	t.rest = nil
	return err
}

// broken breaks a line at spaces; a word that is longer than a line stays whole.
func broken(line string, width int) (out []string) {
	r := []rune(line)
	indent := len(r) - len([]rune(strings.TrimLeft(line, " ")))
	under := []rune(strings.Repeat(" ", indent+2))
	for from := indent; len(r) > width; from = len(under) {
		at := -1
		for i := from; i < len(r) && (at < 0 || i <= width); i++ {
			if r[i] == ' ' && r[i-1] != ' ' {
				at = i
			}
		}
		if at < 0 {
			break
		}
		out = append(out, string(r[:at]))
		r = append(under[:len(under):len(under)], []rune(strings.TrimLeft(string(r[at:]), " "))...)
	}
	return append(out, string(r))
}
