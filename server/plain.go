package server

import (
	"strings"

	"narrowgauge/server/project"
)

var (
	mdFence    = project.Pattern("^\\s*(```|~~~)")
	mdHeading  = project.Pattern(`^#{1,6}\s+`)
	mdRule     = project.Pattern(`^\s*([-*_]\s*){3,}$`)
	mdTable    = project.Pattern(`^\s*\|?[\s:|-]*-[\s:|-]*\|[\s:|-]*$`)
	mdLink     = project.Pattern(`\[([^\]]*)\]\([^)]*\)`)
	mdStrong   = project.Pattern(`\*\*([^*]+)\*\*`)
	mdEmphasis = project.Pattern(`(^|[\s(])\*([^*\s][^*]*)\*`)
	mdCode     = project.Pattern("``[^`]+``|`[^`]+`")
	mdEscape   = project.Pattern("\\\\([\\\\`*_{}\\[\\]()#+.!|<>-])")
)

// plain takes the marks out of Markdown, for clients that would show them.
// It knows what the analysis writes, not all of Markdown.
func plain(md string) string {
	var out []string
	fenced := false
	for line := range strings.SplitSeq(md, "\n") {
		if mdFence().MatchString(line) {
			fenced = !fenced
			continue
		}
		if !fenced {
			if mdRule().MatchString(line) {
				line = ""
			} else if mdTable().MatchString(line) {
				continue
			}
			line = strings.TrimRight(plainLine(mdHeading().ReplaceAllString(line, "")), " ") // two blanks break a line
		}
		if line == "" && (len(out) == 0 || out[len(out)-1] == "") {
			continue
		}
		out = append(out, line)
	}
	return strings.TrimRight(strings.Join(out, "\n"), "\n")
}

// plainLine takes the marks out of one line, but leaves what is in code
// spans as it is.
func plainLine(line string) string {
	var b strings.Builder
	prose := func(s string) {
		s = mdLink().ReplaceAllString(s, "$1")
		s = mdStrong().ReplaceAllString(s, "$1")
		s = mdEmphasis().ReplaceAllString(s, "$1$2")
		b.WriteString(mdEscape().ReplaceAllString(s, "$1"))
	}
	at := 0
	for _, m := range mdCode().FindAllStringIndex(line, -1) {
		prose(line[at:m[0]])
		b.WriteString(strings.Trim(line[m[0]:m[1]], "`"))
		at = m[1]
	}
	prose(line[at:])
	return b.String()
}
