package report

import (
	"html/template"
	"strings"
)

// StyleSheet gives the style of the pages, for pages of other packages that
// stand beside them.
func StyleSheet() template.CSS {
	var out strings.Builder
	if err := template.Must(template.ParseFS(templates, "templates/style.html")).ExecuteTemplate(&out, "style", nil); err != nil {
		panic("report: the built-in style sheet cannot be written: " + err.Error())
	}
	return template.CSS(out.String())
}
