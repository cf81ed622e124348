package source

import (
	_ "embed"
	"fmt"
	"strings"
)

//go:embed reference_head.md
var referenceHead string

// Reference is the page of all keys of a description, as Markdown.
func Reference() string {
	var b strings.Builder
	b.WriteString(referenceHead)
	part := ""
	for _, k := range Keys() {
		if p := partOf(k.Path); p != part {
			part = p
			fmt.Fprintf(&b, "\n## %s\n\n| key | default | meaning |\n|---|---|---|\n", titles[p])
		}
		meaning := k.Meaning
		if k.Origin != "" {
			meaning += " (" + k.Origin + ")"
		}
		def := ""
		if k.Default != "" {
			def = "`" + k.Default + "`"
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", k.Path, def, strings.ReplaceAll(meaning, "|", `\|`))
	}
	return b.String()
}

var titles = map[string]string{
	"": "How a file reads", "messages": "How messages read", "collect": "Collecting",
	"collect.http": "http: a server that answers GET",
	"collect.mqtt": "mqtt: a broker", "collect.modbus": "modbus: a device's registers",
	"collect.sftp": "sftp: a folder reached by SSH",
	"collect.ftp":  "ftp: a folder on an FTP server", "collect.s3": "s3: an object store",
	"collect.push": "push: loggers that POST",
}

// partOf is the section of a key.
func partOf(path string) string {
	words := strings.Split(strings.ReplaceAll(path, "[]", ""), ".")
	switch {
	case words[0] == "collect" && len(words) > 2:
		return "collect." + words[1]
	case words[0] == "collect", words[0] == "messages":
		return words[0]
	}
	return ""
}
