package secret

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wane/ingest/source"
)

func TestRead(t *testing.T) {
	dir := t.TempDir()
	for name, mode := range map[string]os.FileMode{"own": 0o600, "ro": 0o400, "group": 0o640, "all": 0o604} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("s3cret-"+name+"\r\n"), mode); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(filepath.Join(dir, name), mode); err != nil { // whatever the umask
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "empty"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("WANE_TEST_X", "s3cret-env")
	v := New(dir)
	for _, c := range []struct{ where, want, say string }{
		{"env:WANE_TEST_X", "s3cret-env", ""},
		{"env:WANE_TEST_NONE", "", "environment variable WANE_TEST_NONE is not set"},
		{"file:own", "s3cret-own", ""},
		{"file:" + filepath.Join(dir, "ro"), "s3cret-ro", ""},
		{"file:group", "", "others may read the secret in group (mode 0640); chmod 600 it"},
		{"file:all", "", "(mode 0604)"},
		{"file:empty", "", "is empty"},
		{"file:none", "", "read the secret in none: no such file"},
	} {
		var s source.Secret
		if err := s.UnmarshalText([]byte(c.where)); err != nil {
			t.Fatal(err)
		}
		got, err := v.Read(s)
		if got != c.want || (err == nil) != (c.say == "") || err != nil &&
			(!strings.Contains(err.Error(), c.say) || strings.Contains(err.Error(), "s3cret")) {
			t.Errorf("%s: %q %v", c.where, got, err)
		}
	}
	if got, err := v.Read(source.Secret{}); got != "" || err != nil {
		t.Error(got, err)
	}
}

func TestHide(t *testing.T) {
	t.Setenv("WANE_TEST_A", "a/b+c d")
	t.Setenv("WANE_TEST_B", "a/b")
	v := New("")
	for _, name := range []string{"WANE_TEST_B", "WANE_TEST_A"} {
		if _, err := v.Read(source.Secret{Env: name}); err != nil {
			t.Fatal(err)
		}
	}
	v.Know("dTphL2I=")
	for in, want := range map[string]string{
		"get http://x/?k=a%2Fb%2Bc+d: no": "get http://x/?k=(secret): no",
		"get http://x/a%2Fb+c%20d":        "get http://x/(secret)",
		"Authorization: Basic dTphL2I=":   "Authorization: Basic (secret)",
		"a/b+c d and a/b":                 "(secret) and (secret)",
		"nothing of it":                   "nothing of it",
	} {
		if got := v.Hide(in); got != want {
			t.Errorf("%q: %q", in, got)
		}
	}
	err := v.HideError(errors.Join(errors.New("no a/b here"), fs.ErrNotExist))
	if err.Error() != "no (secret) here\nfile does not exist" || !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
	if v.HideError(nil) != nil {
		t.Error("an error of nothing")
	}
}
