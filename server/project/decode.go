package project

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"

	"narrowgauge/analysis"
)

// byteOrderMark is what editors on Windows put in front of a text (RFC 8259, section 8.1,
// lets readers pass over it).
const byteOrderMark = "\ufeff"

// aPlace is a line and a column of a settings file, both from 1; columns are bytes.
type aPlace struct{ line, column int }

func (p aPlace) String() string { return fmt.Sprintf("%d:%d", p.line, p.column) }

// maxProblems is how many mistakes in one settings file are told.
const maxProblems = 5

// decoder reads a settings file and says what is wrong with it, in people's words.
type decoder struct {
	data     []byte
	at, line int // how far lines have been counted
	start    int // of that line
	keys     map[string]aPlace
	problems []string

	profiled  []Profile
	inProfile *Profile // whose object this is; nil: it is the file
	fixed     *aPlace  // where all of it is; nil: it is counted
}

// schemaKey is a member of a project file that says where its schema is, for editors.
const schemaKey = "$schema"

// decodeSettings decodes the JSON object of a project file: what can be read of it comes to
// into, with the places of the keys. It says what is wrong, each with its place in front.
func decodeSettings(data []byte, into *Project) (problems []string) {
	d := &decoder{data: bytes.TrimPrefix(data, []byte(byteOrderMark)), keys: map[string]aPlace{}}
	d.decode(&into.Settings)
	into.keys, into.Profiles = d.keys, d.profiled
	return d.problems
}

// place is where an offset is; offsets have to grow.
func (d *decoder) place(offset int) aPlace {
	if d.fixed != nil {
		return *d.fixed
	}
	offset = min(offset, len(d.data))
	for ; d.at < offset; d.at++ {
		if d.data[d.at] == '\n' {
			d.line, d.start = d.line+1, d.at+1
		}
	}
	return aPlace{d.line + 1, offset - d.start + 1}
}

func (d *decoder) add(at aPlace, format string, args ...any) {
	if len(d.problems) < maxProblems {
		d.problems = append(d.problems, at.String()+": "+fmt.Sprintf(format, args...))
	}
}

func (d *decoder) decode(into *analysis.Settings) {
	var whole json.RawMessage
	if err := json.Unmarshal(d.data, &whole); err != nil {
		at, what := d.broken(err)
		d.add(d.place(at), "%s", what)
		return
	}
	if kind := kindOf(whole); kind != "an object" {
		d.add(d.place(d.skip(0)), `the file has %s; it has to be one object, as in {"cpu": "cortex-m0"}`, kind)
		return
	}
	dec := json.NewDecoder(bytes.NewReader(d.data))
	_, _ = dec.Token() // the brace; all of it has been looked at
	for dec.More() {
		at := d.place(d.skip(int(dec.InputOffset())))
		token, err := dec.Token()
		key, ok := token.(string)
		var value json.RawMessage
		if err != nil || !ok || dec.Decode(&value) != nil {
			return
		}
		d.field(key, at, value, into)
	}
}

// skip is where the next word after an offset begins.
func (d *decoder) skip(offset int) int {
	for offset < len(d.data) && strings.IndexByte(" \t\r\n,", d.data[offset]) >= 0 {
		offset++
	}
	return offset
}

// field decodes one setting.
func (d *decoder) field(key string, at aPlace, value json.RawMessage, into *analysis.Settings) {
	switch {
	case key == profilesKey && d.inProfile == nil:
		d.profiled = d.profiles(at, value)
		return
	case key == schemaKey && d.inProfile == nil:
		return // for editors
	case key == "files" && d.inProfile != nil:
		if json.Unmarshal(value, &d.inProfile.Files) != nil {
			d.add(at, `"files" takes a list of texts, as in ["boot/"], and here is %s`, kindOf(value))
		}
		return
	}
	known := Fields(into)
	name := key
	if known[key] == nil {
		for n := range known {
			if strings.EqualFold(n, key) { // as encoding/json takes it
				name = n
			}
		}
	}
	to := known[name]
	if to == nil {
		d.unknown(key, at, known)
		return
	}
	d.keys[name] = at
	if err := json.Unmarshal(value, to); err == nil {
		return
	}
	switch to := to.(type) {
	case *string:
		*to = ""
		example := ""
		if kindOf(value) == "a number" && name == "wordBytes" {
			example = fmt.Sprintf("; write %q: \"%s\"", name, value)
		}
		d.add(at, "%q takes a text in quotes, and here is %s%s", name, kindOf(value), example)
	case *map[string]int64:
		*to = nil
		d.add(at, `%q takes whole numbers by names, as in {".text": 16384}, and here is %s`, name, kindOf(value))
	case *[]string:
		*to = nil
		what := kindOf(value)
		if what == "a list" {
			what = "a list of other things"
		}
		d.add(at, `%q takes a list of texts, as in ["…", "…"], and here is %s`, name, what)
	}
}

// unknown reports a key that is no setting.
func (d *decoder) unknown(key string, at aPlace, known map[string]any) {
	for field := range reflect.TypeFor[UserSettings]().Fields() {
		if name := field.Tag.Get("json"); name == key {
			d.add(at, "the setting %s is one for the command line and the editor; a project file cannot give it", name)
			return
		}
	}
	var names []string
	for n := range known {
		names = append(names, n)
	}
	if d.inProfile == nil {
		names = append(names, profilesKey)
	} else {
		names = append(names, "files")
	}
	slices.Sort(names)
	hint := "known are " + strings.Join(names, ", ")
	if near := analysis.Near(key, names); len(near) > 0 {
		hint = "similar names: " + strings.Join(near, ", ")
	}
	if len(key) > 60 {
		key = strings.ToValidUTF8(key[:60], "") + "…"
	}
	d.add(at, "there is no setting %q; %s", key, hint)
}

// kindOf says what a JSON value is.
func kindOf(value json.RawMessage) string {
	switch v := bytes.TrimLeft(value, " \t\r\n"); {
	case len(v) == 0, v[0] == 'n':
		return "null"
	case v[0] == '{':
		return "an object"
	case v[0] == '[':
		return "a list"
	case v[0] == '"':
		return "a text"
	case v[0] == 't', v[0] == 'f':
		return "true or false"
	}
	return "a number"
}

// broken says where a text is no JSON, and why as far as that is clear (RFC 8259).
func (d *decoder) broken(err error) (at int, what string) {
	var bad *json.SyntaxError
	if !errors.As(err, &bad) {
		return 0, "the file is not JSON"
	}
	at = max(0, int(bad.Offset)-1)
	if len(bytes.TrimSpace(d.data)) == 0 {
		return 0, "the file is empty; it has to be a JSON object, {} if nothing is to be set"
	}
	if strings.Contains(err.Error(), io.ErrUnexpectedEOF.Error()) || strings.Contains(err.Error(), "unexpected end") {
		return len(d.data), "the file ends too early: a quote, a bracket or a brace is not closed"
	}
	if strings.Contains(err.Error(), "max depth") {
		return at, "the lists or objects are nested too deep"
	}
	before := bytes.TrimRight(d.data[:at], " \t\r\n")
	last := byte(0)
	if len(before) > 0 {
		last = before[len(before)-1]
	}
	switch c := d.data[at]; {
	case c == '/' || c == '#':
		return at, "JSON has no comments"
	case (c == '}' || c == ']') && last == ',':
		return len(before) - 1, "there is a comma with nothing after it; JSON has none after the last one"
	case c == '}' && last == ':', c == ',' && last == ':':
		return at, "the value is missing after the colon"
	case c == '\'':
		return at, "texts are in double quotes, \", in JSON"
	case strings.HasSuffix(err.Error(), "after object key"):
		return at, "a colon has to be after a setting's name"
	case c == '"' && (last == '"' || last == ']' || last == '}'):
		return at, "a comma is missing before this"
	case c < ' ' && strings.Contains(err.Error(), "in string literal"):
		return at, "a text ends on the line where it begins: a quote is missing, or \\n is meant"
	case strings.Contains(err.Error(), "escape"):
		return at, "this is no escape sequence of JSON; a backslash is written \\\\"
	case strings.Contains(err.Error(), "after top-level value"):
		return at, "there is something after the end of the object"
	case strings.Contains(err.Error(), "object key"):
		return at, "a setting's name in double quotes has to be here"
	}
	return at, "this is not JSON: a text is in double quotes, a list in [ ], and commas are between settings"
}
