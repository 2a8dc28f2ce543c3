package format

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Options says how lines are to be laid out, in place of what a file has. The zero value
// of each field means: as most lines of the file have it.
type Options struct {
	Labels       Column // of labels with a colon, where a label may be at any column
	Instructions Column // of mnemonics, and of what may be calls of macros
	Directives   Column // of directives that place nothing
	Data         Column // of directives that place bytes
	Operands     Column // of what follows a name
	Comments     Column // of comments after a statement
	Case         string // of mnemonics: lower, upper, keep
	Commas       string // between operands: space, none, keep
	Blanks       string // spaces, tabs, keep
}

// Column is where a part of a line begins: the zero value is learned from the file.
type Column struct {
	Kind ColumnKind
	At   int // from 0, with tab stops every 8 columns, for At
}

// ColumnKind says how a column is given.
type ColumnKind uint8

// The kinds.
const (
	Learned ColumnKind = iota
	Keep               // it is left as it is
	At                 // at a column
	OneSpace
	OneTab
)

// MaxColumn is the last column that a setting may give.
const MaxColumn = 200

// words lists what each option takes besides numbers; the number: whether it takes those.
var words = []struct {
	name   string
	column bool
	words  []string
}{
	{"labels", true, []string{"keep"}},
	{"instructions", true, []string{"keep"}},
	{"directives", true, []string{"keep"}},
	{"data", true, []string{"keep"}},
	{"operands", true, []string{"space", "tab", "keep"}},
	{"comments", true, []string{"space", "tab", "keep"}},
	{"case", false, []string{"lower", "upper", "keep"}},
	{"commas", false, []string{"space", "none", "keep"}},
	{"blanks", false, []string{"spaces", "tabs", "keep"}},
}

// Names lists the options, as Parse takes them, and what each may be, in words.
func Names() (names []string, values map[string]string) {
	values = map[string]string{}
	for _, w := range words {
		names = append(names, w.name)
		may := strings.Join(w.words, ", ")
		if w.column {
			may = "a column from 0 to " + strconv.Itoa(MaxColumn) + ", " + may
		}
		values[w.name] = may
	}
	return names, values
}

// Parse reads options as settings have them: "comments=40". The error says what is wrong
// with the first that is not known.
func Parse(list []string) (o Options, err error) {
	columns := map[string]*Column{"labels": &o.Labels, "instructions": &o.Instructions, "directives": &o.Directives, "data": &o.Data, "operands": &o.Operands, "comments": &o.Comments}
	texts := map[string]*string{"case": &o.Case, "commas": &o.Commas, "blanks": &o.Blanks}
	names, values := Names()
	for _, item := range list {
		name, value, ok := strings.Cut(item, "=")
		i := slices.Index(names, name)
		if !ok || i < 0 {
			return o, fmt.Errorf("%q is not one of the options of formatting, such as %s=%s", item, "comments", "40")
		}
		if text := texts[name]; text != nil && slices.Contains(words[i].words, value) {
			*text = value
			continue
		}
		if c := columns[name]; c != nil && column(c, value, words[i].words) {
			continue
		}
		return o, fmt.Errorf("%q: %s can be %s", item, name, values[name])
	}
	return o, nil
}

// column reads a column; false if it is none.
func column(c *Column, value string, may []string) bool {
	if n, err := strconv.Atoi(value); err == nil && n >= 0 && n <= MaxColumn {
		*c = Column{At, n}
		return true
	}
	if !slices.Contains(may, value) {
		return false
	}
	*c = Column{Kind: map[string]ColumnKind{"keep": Keep, "space": OneSpace, "tab": OneTab}[value]}
	return true
}
