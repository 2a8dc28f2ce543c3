package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/term"
	"golang.org/x/text/width"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// Each rewrite is proven by an analysis of its own. These bound how much of
// that a listing may cost.
const (
	maxRewrites      = 50      // findings of one file for which one is looked for
	maxRewriteLines  = 20_000  // lines of a file for which any is
	rewriteLineQuota = 200_000 // lines analysed for one file's rewrites
)

// style adds colour, or nothing.
type style struct{ on bool }

// styleFor colours a terminal, unless the user does not want it
// (https://no-color.org).
func styleFor(out io.Writer) style {
	return style{isTerminal(out) && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"}
}

// isTerminal says whether what is written is shown on a terminal, or what is read comes from one.
func isTerminal(end any) bool {
	f, ok := end.(interface{ Fd() uintptr })
	return ok && term.IsTerminal(int(f.Fd()))
}

func (s style) sgr(code, text string) string {
	if !s.on || text == "" {
		return text
	}
	return "\x1b[" + code + "m" + text + "\x1b[0m"
}

func (s style) bold(text string) string { return s.sgr("1", text) }
func (s style) dim(text string) string  { return s.sgr("2", text) }

func (s style) severity(sev analysis.Severity, text string) string {
	return s.sgr([...]string{"1;31", "1;33", "1;36", "1;34"}[sev], text)
}

// renderer prints the findings of one program.
type renderer struct {
	style   style
	all     bool                                    // print all that there is
	each    bool                                    // all rewrites of each finding, not only new ones
	hints   bool                                    // hints are shown
	place   func(f *syntax.File, off int) linePlace // how places in data count columns
	p       *program
	shown   map[shownKey]int
	best    map[findingKey]analysis.Action
	offers  map[findingKey][]analysis.Action // with each: what was offered
	skipped bool
	at      map[string]string // absolute paths, by those that findings name
}

// Bounds of what is printed of a file and of all files; --all lifts them. A source may
// have a finding in every few bytes.
const (
	maxShownLine  = 10
	maxShownFile  = 200
	maxShownTotal = 2000
)

// shownKey counts what has been printed of a line, or of a file where line is -1.
type shownKey struct {
	path string
	line int
}

// fits says whether there is room for one more finding.
func (r *renderer) fits(d analysis.Diagnostic, file *syntax.File) bool {
	if r.all {
		return true
	}
	if r.shown == nil {
		r.shown = map[shownKey]int{}
	}
	line, whole := shownKey{d.Path, file.LineAt(max(0, min(d.Span.Start, len(file.Text()))))}, shownKey{d.Path, -1}
	if r.shown[line] >= maxShownLine || r.shown[whole] >= maxShownFile {
		return false
	}
	r.shown[line]++
	r.shown[whole]++
	return true
}

type findingKey struct {
	code string
	span analysis.Span
}

// rewrites looks for the best rewrite of each finding, or for all of them, within bounds,
// which --all lifts. In text each rewrite is shown once, under its first finding.
func (r *renderer) rewrites(ctx context.Context, res *analysis.Result) {
	lines := max(r.p.in.File.NumLines(), res.Work())
	quota := min(maxRewrites, rewriteLineQuota/lines)
	r.best, r.offers = map[findingKey]analysis.Action{}, map[findingKey][]analysis.Action{}
	shown := map[string]bool{}
	asked := map[analysis.Span]bool{}
	for _, d := range res.Diagnostics() {
		if d.Path != r.p.path || asked[d.Span] || d.Severity == analysis.Hint && !r.hints {
			continue
		}
		if lines > maxRewriteLines && !r.all {
			r.skipped = true
			return
		}
		if quota--; quota < 0 && !r.all {
			r.skipped = true
			return
		}
		asked[d.Span] = true
		offered := res.Actions(ctx, d.Span)
		if r.each {
			r.offer(d, offered)
			continue
		}
		for _, a := range offered {
			key := findingKey{a.Code, a.Target}
			if _, ok := r.best[key]; ok || a.Target != d.Span {
				continue
			}
			same := fmt.Sprint(a.Title, a.Edits)
			if shown[same] {
				continue
			}
			shown[same] = true
			r.best[key] = a
		}
	}
}

// offer notes all that is offered for the findings at the place of d.
func (r *renderer) offer(d analysis.Diagnostic, offered []analysis.Action) {
	r.offers[findingKey{span: d.Span}] = nil
	for _, a := range offered {
		if a.Target == d.Span {
			key := findingKey{a.Code, a.Target}
			r.offers[key] = append(r.offers[key], a)
		}
	}
}

// json is a finding for machines.
func (r *renderer) json(d analysis.Diagnostic, file *syntax.File) jsonFinding {
	start, end := r.place(file, d.Span.Start), r.place(file, max(d.Span.Start, d.Span.End))
	f := jsonFinding{display(d.Path), start.line, start.column, end.line, end.column, d.Severity.String(), d.Code, d.Message, []jsonNote{}, nil}
	related := d.Related
	for _, l := range d.Same {
		related = append(related[:len(related):len(related)], analysis.Related{Location: l, Message: analysis.SameHere})
	}
	for _, rel := range related {
		if rf := r.p.file(rel.Path); rf != nil {
			start, end := r.place(rf, rel.Span.Start), r.place(rf, max(rel.Span.Start, rel.Span.End))
			f.Notes = append(f.Notes, jsonNote{display(rel.Path), start.line, start.column, end.line, end.column, rel.Message})
		}
	}
	if _, asked := r.offers[findingKey{span: d.Span}]; !asked || d.Path != r.p.path {
		return f
	}
	f.Rewrites = []jsonRewrite{}
	for _, a := range r.offers[findingKey{d.Code, d.Span}] {
		w := jsonRewrite{Name: a.Rewrite, Title: a.Title, Safe: a.Safe, Cost: a.Bytes, Edits: []jsonEdit{}}
		for _, e := range a.Edits {
			start, end := r.place(file, e.Span.Start), r.place(file, e.Span.End)
			w.Edits = append(w.Edits, jsonEdit{start.line, start.column, end.line, end.column, e.New})
		}
		f.Rewrites = append(f.Rewrites, w)
	}
	return f
}

// finding is the text for one finding, with a newline at its end.
func (r *renderer) finding(d analysis.Diagnostic, file *syntax.File) string {
	var b strings.Builder
	at := place(file, d.Span.Start)
	fmt.Fprintf(&b, "%s: %s %s %s\n",
		r.style.bold(fmt.Sprintf("%s:%d:%d", clean(display(d.Path)), at.line, at.column)),
		r.style.severity(d.Severity, d.Severity.String()+":"),
		r.style.bold(clean(d.Message)), r.style.dim("["+d.Code+"]"))
	r.excerpt(&b, d.Span, file, func(s string) string { return r.style.severity(d.Severity, s) })
	for _, rel := range d.Related {
		rf := r.p.file(rel.Path)
		if rf == nil {
			continue
		}
		at := place(rf, rel.Span.Start)
		fmt.Fprintf(&b, "  %s: note: %s\n", r.style.bold(fmt.Sprintf("%s:%d:%d", clean(display(rel.Path)), at.line, at.column)), clean(rel.Message))
		r.excerpt(&b, rel.Span, rf, r.style.dim)
	}
	if a, ok := r.best[findingKey{d.Code, d.Span}]; ok && d.Path == r.p.path {
		r.rewrite(&b, a, file)
	}
	return b.String()
}

// excerpt is the line of the span with the span underlined.
func (r *renderer) excerpt(b *strings.Builder, span analysis.Span, file *syntax.File, paint func(string) string) {
	text := file.Text()
	start := max(0, min(span.Start, len(text)))
	end := max(start, min(span.End, len(text)))
	i := file.LineAt(start)
	from := file.LineStart(i)
	line := lineText(file, i)
	if strings.TrimSpace(line) == "" {
		return
	}
	before := min(start-from, len(line))
	after := max(before, min(end-from, len(line)))
	line, before, after = window(line, before, after)
	shown, col := expand(line[:before], 0)
	mid, midEnd := expand(line[before:after], col)
	rest, _ := expand(line[after:], midEnd)
	number := fmt.Sprintf("%5d", i+1)
	margin := strings.Repeat(" ", len(number)+1) + "|"
	fmt.Fprintf(b, "%s %s%s%s\n", r.style.dim(number+" |"), shown, mid, rest)
	underline := "^" + strings.Repeat("~", max(0, midEnd-col-1))
	fmt.Fprintf(b, "%s %s%s\n", r.style.dim(margin), strings.Repeat(" ", col), paint(underline))
}

// maxExcerpt is how many bytes of a line an excerpt has.
const maxExcerpt = 160

// window cuts a long line around the range from before to after, and gives the range
// in what is left. A mark is where something was cut off.
func window(line string, before, after int) (cut string, from, to int) {
	if len(line) <= maxExcerpt {
		return line, before, after
	}
	start, end := before-maxExcerpt/4, before+maxExcerpt*3/4
	if start < 0 {
		start, end = 0, maxExcerpt
	} else if end > len(line) {
		start, end = len(line)-maxExcerpt, len(line)
	}
	// Not within a character.
	for start > 0 && start < before && !utf8.RuneStart(line[start]) {
		start++
	}
	for end < len(line) && end > before && !utf8.RuneStart(line[end]) {
		end--
	}
	cut, from, to = line[start:end], before-start, min(after, end)-start
	if end < len(line) {
		cut += "…"
	}
	if start > 0 {
		cut, from, to = "…"+cut, from+len("…"), to+len("…")
	}
	return cut, from, to
}

// rewrite shows what an action does to the lines it touches.
func (r *renderer) rewrite(b *strings.Builder, a analysis.Action, file *syntax.File) {
	mark := ""
	if !a.Safe {
		mark = " (review before use)"
	}
	fmt.Fprintf(b, "  rewrite: %s%s\n", clean(a.Title), r.style.dim(mark))
	const limit = 8    // lines shown of each side of a hunk
	const maxHunks = 8 // shown of a rewrite
	for i, hunks, end := 0, 0, 0; i < len(a.Edits); hunks++ {
		if hunks == maxHunks && !r.all {
			fmt.Fprintf(b, "    %s\n", r.style.dim("and more edits further on"))
			break
		}
		// Edits in the same lines make one hunk.
		first := file.LineAt(a.Edits[i].Span.Start)
		last := file.LineAt(a.Edits[i].Span.End)
		if hunks > 0 && first > end+1 {
			fmt.Fprintf(b, "    %s\n", r.style.dim("⋮"))
		}
		j := i + 1
		for j < len(a.Edits) && file.LineAt(a.Edits[j].Span.Start) <= last {
			last = max(last, file.LineAt(a.Edits[j].Span.End))
			j++
		}
		end = last
		from, to := file.LineStart(first), len(file.Text())
		if last+1 < file.NumLines() {
			to = file.LineStart(last + 1)
		}
		old := file.Text()[from:to]
		local := make([]analysis.Edit, 0, j-i)
		for _, e := range a.Edits[i:j] {
			e.Span.Start -= from
			e.Span.End -= from
			local = append(local, e)
		}
		i = j
		now, err := apply(old, local)
		if err != nil {
			continue
		}
		minus, plus := splitLines(old), splitLines(now)
		// What both sides share at their ends is not part of the change.
		for len(minus) > 0 && len(plus) > 0 && minus[len(minus)-1] == plus[len(plus)-1] {
			minus, plus = minus[:len(minus)-1], plus[:len(plus)-1]
		}
		for len(minus) > 0 && len(plus) > 0 && minus[0] == plus[0] {
			minus, plus = minus[1:], plus[1:]
		}
		for side, lines := range [][]string{minus, plus} {
			sign, colour := "-", "31"
			if side == 1 {
				sign, colour = "+", "32"
			}
			for n, line := range lines {
				if n == limit {
					fmt.Fprintf(b, "    %s\n", r.style.dim(fmt.Sprintf("%s (%d more lines)", sign, len(lines)-limit)))
					break
				}
				line, _, _ = window(line, 0, 0)
				shown, _ := expand(line, 0)
				fmt.Fprintf(b, "    %s\n", r.style.sgr(colour, strings.TrimRight(sign+" "+shown, " ")))
			}
		}
	}
}

func splitLines(s string) []string {
	if s == "" {
		return nil
	}
	lines := strings.Split(strings.TrimSuffix(s, "\n"), "\n")
	for i := range lines {
		lines[i] = strings.TrimSuffix(lines[i], "\r")
	}
	return lines
}

func lineText(f *syntax.File, i int) string {
	end := len(f.Text())
	if i+1 < f.NumLines() {
		end = f.LineStart(i + 1)
	}
	return strings.TrimRight(f.Text()[f.LineStart(i):end], "\r\n")
}

// tabWidth is the distance of tab stops: 8 columns, as in terminals.
const tabWidth = 8

// expand replaces tabs by spaces, beginning at column col, and returns the
// column after the text. Control characters become visible, so that a
// source cannot steer the terminal.
func expand(s string, col int) (string, int) {
	var b strings.Builder
	for i := 0; i < len(s); {
		c, n := utf8.DecodeRuneInString(s[i:])
		i += n
		switch {
		case c == '\t':
			w := tabWidth - col%tabWidth
			b.WriteString(strings.Repeat(" ", w))
			col += w
		case c == utf8.RuneError || unicode.IsControl(c) || isBidi(c):
			b.WriteRune('\uFFFD')
			col++
		default:
			b.WriteRune(c)
			col += columns(c)
		}
	}
	return b.String(), col
}

// columns is how wide a terminal draws c (Unicode Standard Annex 11).
func columns(c rune) int {
	if unicode.In(c, unicode.Mn, unicode.Me) || c == '\u200b' || c == '\u200d' {
		return 0
	}
	switch width.LookupRune(c).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return 2
	}
	return 1
}

// isBidi reports the characters that reorder what is printed around them.
func isBidi(c rune) bool {
	return c >= '\u202a' && c <= '\u202e' || c >= '\u2066' && c <= '\u2069'
}

// clean makes a message, which may quote the source, safe for a terminal.
func clean(s string) string {
	out, _ := expand(strings.ReplaceAll(s, "\t", " "), 0)
	return out
}
