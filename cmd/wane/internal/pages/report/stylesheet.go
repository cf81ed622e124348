package report

import (
	"crypto/sha256"
	"encoding/base64"
	"html/template"
	"strings"
)

// StyleSheet gives the style of the pages, for pages of other packages that
// stand beside them.
func StyleSheet() template.CSS {
	var out strings.Builder
	if err := template.Must(template.ParseFS(templates, "templates/style.html")).ExecuteTemplate(&out, "style",
		nil); err != nil {
		panic("report: the built-in style sheet cannot be written: " + err.Error())
	}
	return template.CSS(out.String())
}

// StyleHash names the one style element of the pages as a content-security policy
// does, so that a server can let it pass and no other.
func StyleHash() string {
	var page strings.Builder
	if err := sets["overview"].ExecuteTemplate(&page, "layout.html", frame{}); err != nil {
		panic("report: an empty page cannot be written: " + err.Error())
	}
	return HashStyle(page.String())
}

// HashStyle names the style element of a page in the same way.
func HashStyle(page string) string {
	_, style, _ := strings.Cut(page, "<style>")
	style, _, _ = strings.Cut(style, "</style>")
	h := sha256.Sum256([]byte(style))
	return "sha256-" + base64.StdEncoding.EncodeToString(h[:])
}
