package project

import (
	"encoding/json"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"narrowgauge/analysis"
)

// What build files say of the preprocessor and of symbols is taken where it holds for sure:
// outside of conditions, for this source or for all, with a value that stands there. A name
// of which anything else is said is left as if nothing was.

// The bounds of what is kept of it.
const (
	maxTold     = 500     // options of one file
	maxToldText = 8 << 10 // bytes of one call or of lines that belong together
	maxDefines  = 200     // names that a source gets
)

// told is an option of the preprocessor or the assembler in a build file.
type told struct {
	kind        tellKind
	name, value string   // of a macro or symbol; the path of a file
	unsure      bool     // the value is not plain, or a condition decides
	via         string   // the variable that holds it, which something has to use
	only        []string // the names of sources that it is for, without endings; nil: all
	holder      string   // the target or section that it is for; empty: all
}

type tellKind byte

const (
	tellDefine tellKind = iota
	tellSymbol
	tellPrelude
	tellPreprocess
)

// use is where a variable is used outside of conditions.
type use struct {
	name, by string // by: the variable in whose value that is; empty: a command or a rule
	only     []string
}

// tellings is what one build file says beside the target.
type tellings struct {
	stamp   Stamp
	options []told
	uses    []use
	holders []string          // targets, or sections that have options
	values  map[string]string // of variables that have one plain value
	unclear map[string]bool   // variables with several values, or values under a condition
}

var (
	// defineOption finds -D and -U with a name.
	defineOption = Pattern(`(?:^|[\s"'\[(,={:;])-([DU])\s*["']?([A-Za-z_][A-Za-z0-9_]*)`)
	// symbolOption finds --defsym, as the assembler and, after -Wa, the compiler take it.
	symbolOption = Pattern(`(-W[a-z],)?--?defsym(?:["']\s*,\s*["']|[,\s=])\s*([A-Za-z_.$][A-Za-z0-9_.$]*)`)
	// preludeOption finds -include. At the first word of a line it is make's.
	preludeOption = Pattern(`[\s"',=(]-(?:include|imacros)["',\s]+((?:\$[({][A-Za-z0-9_.-]+[)}]|[A-Za-z0-9_./+-])+)`)
	// languageOption finds what sends sources through the preprocessor.
	languageOption = Pattern(`(?:^|[\s"'=(,\[])-x["',\s]*assembler-with-cpp\b`)
	// plainValue is the value of a macro or symbol, if it is plain, and what comes after it.
	plainValue = Pattern(`^=((?:[A-Za-z0-9_.+*/<>()-]|\$[({][A-Za-z0-9_.-]+[)}]|\$[A-Za-z_][A-Za-z0-9_]*)*)(?:["'\s,;)\]}]|\\["']|$)`)
	// listedDefine is an element of a list of macros in CMake, Meson or JSON.
	listedDefine = Pattern(`^(?:-D)?([A-Za-z_][A-Za-z0-9_]*)(=[A-Za-z0-9_.+*/<>()-]*)?$`)
	// sourceDefines finds the macros among the properties of a source of CMake: one argument.
	sourceDefines = Pattern(`\bCOMPILE_DEFINITIONS\s+(?:"((?:[^"\\]|\\.)*)"|([^\s"]+)(?:\s|$))`)
	// usedVariable finds variables of make, CMake and shells.
	usedVariable = Pattern(`\$(?:[({]([A-Za-z_][A-Za-z0-9_.-]*)[)}]|([A-Za-z_][A-Za-z0-9_]*))`)
	// assignedTo finds the variable that a line gives a value, in make and shells.
	assignedTo = Pattern(`^\s*(?:(?:export|override|private|local|readonly)\s+)*([A-Za-z_][A-Za-z0-9_.$(){}-]*)\s*(?:::?:?|[?+])?=\s*(.*)$`)
	// ownVariable finds a variable of one target of make.
	ownVariable = Pattern(`^([^\s=:#][^=:#]*):\s*(?:private\s+|override\s+|export\s+)*([A-Za-z_][A-Za-z0-9_.-]*)\s*[:+?]?=\s*(.*)$`)
	// kbuildVariable finds the flags of one source, as Kbuild has them.
	kbuildVariable = Pattern(`^(?:AFLAGS|CFLAGS|ASFLAGS)_([A-Za-z0-9_.-]+\.o)$`)
	// sourceNames finds files that are assembled or compiled, and what becomes of them.
	sourceNames = Pattern(`[A-Za-z0-9_.+-]+\.(?:s|S|sx|asm|ASM|o|obj|c|cc|cpp)\b`)
	// ownFlags are the variables that built-in rules use, and others that end so by custom.
	ownFlags = Pattern(`(?i)(?:^|_)(?:C|AS?|ASM|CPP)_?FLAGS$|^(?:subdir-)?(?:cc|as)flags-y$`)
	// otherFlags are those of variables for something else: other languages and machines,
	// the linker, and variants of a build (common practice). KBUILD_… are those for the target.
	otherFlags = Pattern(`(?i)HOST|(?:^|[^k])BUILD_?(?:C|A)|CXX|(?:^|[_-])LD|LINK|TEST|CHECK|LINT|DEBUG|RELEASE|DOX|NATIVE|REMOVE|SIM`)
	// call finds a call of CMake or Meson with its arguments.
	call = Pattern(`(?m)([A-Za-z_][A-Za-z0-9_]*)\s*\(((?:[^()]|\((?:[^()]|\([^()]*\))*\))*)\)|^[ \t]*(if|elif|else|endif|foreach|endforeach)\b`)
)

// tell reads what a build file says beside the target. Lines and calls are read one after
// the other, with what is open around them.
func tell(path string, data []byte) *tellings {
	out := &tellings{values: map[string]string{}, unclear: map[string]bool{}}
	name := strings.ToLower(filepath.Base(path))
	switch ext := filepath.Ext(name); {
	case name == "cmakelists.txt" || ext == ".cmake":
		out.cmake(string(data))
	case name == "meson.build":
		out.meson(string(data))
	case ext == ".json":
		out.json(data)
	case ext == ".ini" || ext == ".txt":
		out.ini(string(data))
	case ext == ".ld" || ext == ".lds":
	case name == "sconstruct" || name == "sconscript":
		out.python(string(data))
	default:
		out.lines(string(data), ext == ".sh")
	}
	return out
}

// scope is what holds where a text stands.
type scope struct {
	unsure      bool
	via, holder string
	only        []string
}

// add notes an option, up to a limit.
func (t *tellings) add(o told, s scope) {
	o.unsure = o.unsure || s.unsure
	o.via, o.only, o.holder = s.via, s.only, s.holder
	if len(t.options) < maxTold {
		t.options = append(t.options, o)
	}
}

// scan takes the options out of a text.
func (t *tellings) scan(text string, s scope) {
	for _, m := range defineOption().FindAllStringSubmatchIndex(text, maxTold) {
		o := told{kind: tellDefine, name: text[m[4]:m[5]]}
		if text[m[2]:m[3]] == "U" {
			o.unsure = true // what is taken back somewhere is not there for sure
		} else {
			o.read(text[m[5]:])
		}
		o.unsure = o.unsure || within(text[:m[0]])
		t.add(o, s)
	}
	for _, m := range symbolOption().FindAllStringSubmatchIndex(text, maxTold) {
		if m[2] >= 0 && text[m[2]:m[3]] != "-Wa," || strings.Contains(lastWord(text[:m[0]]), "-Wl") {
			continue // the linker's
		}
		o := told{kind: tellSymbol, name: text[m[4]:m[5]]}
		o.read(text[m[5]:])
		o.unsure = o.unsure || o.value == "" || within(text[:m[0]])
		t.add(o, s)
	}
	for _, m := range preludeOption().FindAllStringSubmatchIndex(text, maxTold) {
		t.add(told{kind: tellPrelude, name: text[m[2]:m[3]], unsure: within(text[:m[0]])}, s)
	}
	if m := languageOption().FindStringIndex(text); m != nil {
		t.add(told{kind: tellPreprocess, unsure: within(text[:m[0]])}, s)
	}
}

// read takes the value after the name of a macro or symbol.
func (o *told) read(rest string) {
	if rest == "" || strings.ContainsRune(" \t\r\n\"',;)]}", rune(rest[0])) {
		return
	}
	m := plainValue().FindStringSubmatch(rest)
	if m == nil || m[1] == "" || strings.Count(m[1], "(") != strings.Count(m[1], ")") {
		o.unsure = true
		return
	}
	o.value = m[1]
}

// within says whether a text ends inside of a call of make, or after a condition of a shell.
func within(before string) bool {
	open := 0
	for i := 0; i < len(before); i++ {
		switch two := before[i:min(i+2, len(before))]; {
		case two == "$(" || two == "${":
			end := strings.IndexAny(before[i:], ")} ")
			if end < 0 || before[i+end] == ' ' {
				open++
			} else {
				i += end
			}
		case open > 0 && (before[i] == ')' || before[i] == '}'):
			open--
		}
	}
	return open > 0 || tested().MatchString(before)
}

// tested finds a condition of a shell before what it decides.
var tested = Pattern(`(?:\[|\btest\b|\|\|).*(?:&&|\|\|)|\|\|`)

// lastWord is what of a text stands behind its last blank.
func lastWord(s string) string { return s[strings.LastIndexAny(s, " \t\"'")+1:] }

// stems are the names of sources in a text, without endings.
func stems(text string) (out []string) {
	for _, name := range sourceNames().FindAllString(text, 50) {
		out = append(out, strings.TrimSuffix(name, filepath.Ext(name)))
	}
	return out
}

// Words that begin and end what a condition decides.
var (
	opens  = map[string]bool{"ifdef": true, "ifndef": true, "ifeq": true, "ifneq": true, "define": true}
	closes = map[string]bool{"endif": true, "endef": true}
)

var (
	shellOpens  = Pattern(`(?:^|[;&|]|\bthen|\belse|\bdo)\s*(?:if|case|for|while|until)\s`)
	shellCloses = Pattern(`(?:^|[;&|)]|\s)\s*(?:fi|esac|done)(?:$|[\s;&|)])`)
)

// lines reads files for make and shells.
func (t *tellings) lines(text string, shell bool) {
	depth := 0
	var rule string // the line that begins a rule
	for line := range logical(text) {
		trimmed := strings.TrimSpace(line)
		recipe := strings.HasPrefix(line, "\t") && !shell && rule != ""
		first, _, _ := strings.Cut(strings.ReplaceAll(trimmed, "(", " "), " ")
		switch {
		case trimmed == "" || trimmed[0] == '#':
			continue
		case shell:
			depth += len(shellOpens().FindAllString(trimmed, -1)) - len(shellCloses().FindAllString(trimmed, -1))
		case !recipe && opens[first]:
			depth++
			continue
		case !recipe && closes[first]:
			depth--
			continue
		case !recipe && (strings.HasPrefix(first, "-") || first == "include" || first == "sinclude" || first == "else"):
			continue // make's own -include
		}
		s := scope{unsure: depth > 0 || shell && shellCloses().MatchString(trimmed)}
		switch {
		case recipe:
			s.only = stems(rule + " " + line)
			if strings.Contains(rule, "%") || strings.HasPrefix(rule, ".") {
				s.only = stems(line)
			}
			s.unsure = s.unsure || otherTool(trimmed)
			t.scan(line, s)
			t.use(line, "", s)
			continue
		}
		if m := ownVariable().FindStringSubmatch(line); m != nil && !shell {
			s.only = stems(m[1])
			s.unsure = s.unsure || s.only == nil && !strings.HasPrefix(m[1], "%.o") // of some target
			t.assigned(m[2], m[3], s)
			continue
		}
		if m := assignedTo().FindStringSubmatch(line); m != nil {
			t.assigned(m[1], m[2], s)
			continue
		}
		if shell {
			s.only = stems(line)
			s.unsure = s.unsure || otherTool(trimmed)
			t.scan(line, s)
			t.use(line, "", s)
			continue
		}
		rule = ""
		if strings.Contains(line, ":") {
			rule, _, _ = strings.Cut(line, ";")
		}
	}
}

// assigned reads the value that a variable is given.
func (t *tellings) assigned(name, value string, s scope) {
	if m := kbuildVariable().FindStringSubmatch(name); m != nil {
		s.only = stems(m[1])
	} else {
		if strings.ContainsAny(name, "$({") || otherFlags().MatchString(name) {
			s.unsure = true
		}
		if !ownFlags().MatchString(name) {
			s.via = name
		}
	}
	t.set(name, value, s.unsure || s.only != nil)
	t.scan(" "+value, s)
	by := name
	if s.via == "" {
		by = ""
	}
	t.use(value, by, s)
}

// set notes the value of a variable.
func (t *tellings) set(name, value string, unsure bool) {
	if i := strings.Index(value, " #"); i >= 0 {
		value = value[:i]
	}
	value = strings.Trim(strings.TrimSpace(value), `"'`)
	if old, ok := t.values[name]; ok && old != value || unsure {
		t.unclear[name] = true
	}
	if len(t.values) < maxTold {
		t.values[name] = value
	}
}

// use notes which variables a text uses.
func (t *tellings) use(text, by string, s scope) {
	if s.unsure {
		return
	}
	for _, m := range usedVariable().FindAllStringSubmatchIndex(text, 50) {
		if within(text[:m[0]]) || len(t.uses) >= maxTold {
			continue
		}
		t.uses = append(t.uses, use{nameIn(text, m), by, s.only})
	}
}

// nameIn is the variable in a match of usedVariable.
func nameIn(text string, m []int) string {
	if m[2] < 0 {
		return text[m[4]:m[5]]
	}
	return text[m[2]:m[3]]
}

// otherTool says whether a command runs a linker or a compiler of the machine itself.
func otherTool(line string) bool {
	word, _, _ := strings.Cut(strings.TrimLeft(line, "@-+ \t"), " ")
	word = strings.Trim(word, "$(){}")
	return otherFlags().MatchString(word) || word == "gcc" || word == "cc"
}

// logical gives the lines of a text, those that a backslash continues as one, without
// comments at their end.
func logical(text string) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		held := ""
		for line := range strings.Lines(text) {
			line = strings.TrimRight(line, "\r\n")
			if more, ok := strings.CutSuffix(line, "\\"); ok && len(held)+len(more) < maxToldText {
				held += more + " "
				continue
			}
			line = held + line
			held = ""
			if i := strings.Index(line, " #"); i >= 0 {
				line = line[:i]
			}
			if len(line) < maxToldText && !yield(line) {
				return
			}
		}
	}
}

// withoutHashes takes the comments out of the text of a file of CMake or Meson.
func withoutHashes(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		quotes := byte(0)
		for i := 0; i < len(line); i++ {
			if c := line[i]; c == quotes {
				quotes = 0
			} else if quotes == 0 && (c == '"' || c == '\'') {
				quotes = c
			} else if quotes == 0 && c == '#' {
				line = line[:i] + "\n"
			}
		}
		b.WriteString(line)
	}
	return b.String()
}

// macros are the words of a call of CMake that may be macros. A quote inside of one is a part
// of its value.
func macros(text string) []string {
	words := strings.FieldsFunc(text, func(c rune) bool { return strings.ContainsRune(" \t\r\n;", c) })
	for i, w := range words {
		words[i] = strings.TrimSuffix(strings.TrimPrefix(w, `"`), `"`)
	}
	return words
}

// arguments are the words of a call, without quotes.
func arguments(text string) []string {
	return strings.FieldsFunc(text, func(c rune) bool { return strings.ContainsRune(" \t\r\n\"',;[]", c) })
}

// listed takes words as macros.
func (t *tellings) listed(words []string, s scope) {
	for _, word := range words {
		m := listedDefine().FindStringSubmatch(word)
		if m == nil {
			continue // not plain, or the name is no name
		}
		t.add(told{kind: tellDefine, name: m[1], value: strings.TrimPrefix(m[2], "=")}, s)
	}
}

// cmake reads the calls of a file of CMake.
func (t *tellings) cmake(text string) {
	depth := 0
	sources := map[string][]string{} // of targets
	calls := call().FindAllStringSubmatch(withoutHashes(text), maxTold*4)
	for _, m := range calls {
		switch words := arguments(m[2]); strings.ToLower(m[1]) {
		case "add_executable", "add_library", "target_sources":
			if len(words) > 1 && !slices.Contains(words, "ALIAS") && !slices.Contains(words, "IMPORTED") {
				if _, ok := sources[words[0]]; !ok {
					t.holders = append(t.holders, words[0])
				}
				sources[words[0]] = append(sources[words[0]], stems(m[2])...)
			}
		}
	}
	for _, m := range calls {
		name, text := strings.ToLower(m[1]), m[2]
		words := arguments(text)
		s := scope{unsure: depth > 0 || strings.Contains(text, "$<")}
		switch name {
		case "if", "foreach", "function", "macro", "while":
			depth++
		case "endif", "endforeach", "endfunction", "endmacro", "endwhile":
			depth--
		case "add_compile_definitions":
			t.listed(macros(text), s)
		case "add_definitions", "add_compile_options":
			t.scan(" "+text, s)
		case "target_compile_definitions", "target_compile_options":
			if len(words) == 0 {
				continue
			}
			s.holder, s.only = words[0], sources[words[0]]
			if name == "target_compile_options" {
				t.scan(" "+text, s)
			} else {
				t.listed(slices.DeleteFunc(macros(text)[1:], func(w string) bool { return w == "PRIVATE" || w == "PUBLIC" || w == "INTERFACE" }), s)
			}
		case "set_source_files_properties":
			files, properties, ok := strings.Cut(text, "PROPERTIES")
			if s.only = stems(files); !ok || s.only == nil {
				continue
			}
			if m := sourceDefines().FindStringSubmatch(properties); m != nil {
				t.listed(macros(m[1]+m[2]), s)
			}
			t.scan(" "+properties, s)
		case "set":
			if len(words) > 1 {
				t.cmakeSet(words[0], strings.TrimPrefix(strings.TrimSpace(text), words[0]), s)
			}
		}
	}
}

// cmakeSet reads the value of a variable of CMake: some are flags for all sources.
func (t *tellings) cmakeSet(name, value string, s scope) {
	t.set(name, value, s.unsure)
	switch name {
	case "CMAKE_C_FLAGS", "CMAKE_ASM_FLAGS", "CMAKE_C_FLAGS_INIT", "CMAKE_ASM_FLAGS_INIT":
		t.use(value, "", s)
	default:
		if s.via = name; otherFlags().MatchString(name) {
			s.unsure = true
		}
		t.use(value, name, s)
	}
	t.scan(" "+value, s)
}

// meson reads the calls of a file of Meson.
func (t *tellings) meson(text string) {
	depth := 0
	for _, m := range call().FindAllStringSubmatch(withoutHashes(text), maxTold*4) {
		word := m[3]
		if word == "" && (m[1] == "if" || m[1] == "elif") {
			word = m[1] // its condition is in brackets
		}
		switch word {
		case "if", "foreach":
			depth++
		case "endif", "endforeach":
			depth--
		}
		s := scope{unsure: depth > 0 || strings.Contains(m[2], "native: true") || strings.Contains(m[2], "'cpp'")}
		switch m[1] {
		case "add_project_arguments", "add_global_arguments":
			t.scan(" "+m[2], s)
		case "executable", "static_library", "library":
			words := arguments(m[2])
			if len(words) == 0 {
				continue
			}
			t.holders = append(t.holders, words[0])
			s.holder, s.only = words[0], stems(m[2])
			t.scan(" "+m[2], s)
		}
	}
}

// json reads a project file: what one of its objects says is for what that is about.
func (t *tellings) json(data []byte) {
	var root any
	if json.Unmarshal(data, &root) != nil {
		return
	}
	t.object("", "", root, 0)
}

func (t *tellings) object(at, key string, v any, depth int) {
	if depth > 20 {
		return
	}
	switch v := v.(type) {
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			x, inside := v[k], at
			if _, nested := x.(map[string]any); nested {
				inside += "/" + k
			}
			t.object(inside, k, x, depth+1)
		}
	case []any:
		var words []string
		for i, x := range v {
			if s, ok := x.(string); ok {
				words = append(words, s)
			} else {
				t.object(fmt.Sprintf("%s/%s/%d", at, key, i), key, x, depth+1)
			}
		}
		t.words(at, key, words)
	case string:
		t.words(at, key, []string{v})
	}
}

// words reads the strings of one key.
func (t *tellings) words(at, key string, words []string) {
	n := len(t.options)
	s := scope{holder: at + "/"}
	key = strings.ToLower(key)
	if strings.HasSuffix(key, "defines") || strings.HasSuffix(key, "definitions") || strings.HasSuffix(key, "macros") {
		t.listed(words, s)
	} else {
		t.scan(" "+strings.Join(words, " "), s)
	}
	if (len(t.options) > n || options().MatchString(strings.Join(words, " "))) && !slices.Contains(t.holders, s.holder) {
		t.holders = append(t.holders, s.holder)
	}
}

// ini reads a project file in sections.
func (t *tellings) ini(text string) {
	section := "/"
	held := false
	for line := range strings.Lines(text) {
		trimmed := strings.TrimSpace(line)
		if trimmed == "" || trimmed[0] == ';' || trimmed[0] == '#' {
			continue
		}
		if trimmed[0] == '[' {
			section, held = trimmed, false
			continue
		}
		n := len(t.options)
		if i := strings.Index(trimmed, " ;"); i >= 0 {
			trimmed = trimmed[:i]
		}
		t.scan(" "+trimmed, scope{holder: section})
		if (len(t.options) > n || options().MatchString(trimmed)) && !held {
			held = true
			t.holders = append(t.holders, section)
		}
	}
}

// python reads the scripts of build tools in that language: what a line ending in a colon
// begins, a condition or a function decides.
func (t *tellings) python(text string) {
	block := -1 // how far the line is indented whose block this is
	for line := range logical(text) {
		trimmed := strings.TrimLeft(line, " \t")
		if strings.TrimSpace(trimmed) == "" || trimmed[0] == '#' {
			continue
		}
		indent := len(line) - len(trimmed)
		if block >= 0 && indent <= block {
			block = -1
		}
		if strings.HasSuffix(strings.TrimSpace(trimmed), ":") && block < 0 {
			block = indent
		}
		t.scan(" "+trimmed, scope{unsure: block >= 0})
	}
}

// optionFolders are those of nearFolders in which flags are for the sources of the project,
// not for tools of the build (common practice).
func optionFolders(name string) bool {
	switch strings.ToLower(name) {
	case "tools", "scripts":
		return false
	}
	return true
}

// meant is what is taken of the options that have one name.
type meant struct {
	value  string
	unsure bool
	level  string // the folder at or above the source that says it
}

// tell reads what a build file says beside the target, which is asked of few sources, and
// keeps it.
func (f *BuildFiles) tell(path string, stamp Stamp, b *Bounds) *tellings {
	f.mu.Lock()
	have, ok := f.told[path]
	f.mu.Unlock()
	if ok && have.stamp == stamp {
		return have
	}
	have = &tellings{}
	if text, _, err := b.Read(path); err == nil && stamp != (Stamp{}) && len(text) <= maxBuildFile {
		have = tell(path, []byte(text))
	}
	have.stamp = stamp
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.told == nil || len(f.told) > maxKeptFolders {
		f.told = map[string]*tellings{}
	}
	f.told[path] = have
	return have
}

// Options is what build files near a source, from its folder upwards, say of macros, symbols
// and the preprocessor. The nearer folder counts.
func (f *BuildFiles) Options(source string, b *Bounds) (out analysis.Settings) {
	stem := filepath.Base(source)
	stem = strings.TrimSuffix(stem, filepath.Ext(stem))
	var files []fileTold
	f.all(filepath.Dir(source), b, func(path string, t buildText, top string) {
		dir := filepath.Dir(path)
		level := dir
		if _, inside := Below(source, dir); !inside {
			if level = filepath.Dir(dir); !optionFolders(filepath.Base(dir)) {
				return
			}
		}
		files = append(files, fileTold{dir, level, top, t, f.tell(path, t.stamp, b)})
	})
	known := together(files)
	names := map[tellKind]map[string]*meant{tellDefine: {}, tellSymbol: {}}
	var order []told
	for _, at := range files {
		for _, o := range at.tells.options {
			if o.only != nil && !slices.Contains(o.only, stem) || !known.holds(at.tells, &o) {
				continue
			}
			o.unsure = o.unsure || o.via != "" && !known.used(o.via, stem, 0)
			switch o.kind {
			case tellPreprocess:
				if !o.unsure {
					out.Preprocess = "always"
				}
				continue
			case tellPrelude:
				if path := at.prelude(o.name, b); !o.unsure && path != "" && len(out.Prelude) < maxPreludes && !slices.Contains(out.Prelude, path) {
					out.Prelude = append(out.Prelude, path)
				}
				continue
			}
			value, ok := known.plain(o.value)
			o.value, o.unsure = value, o.unsure || !ok
			m := names[o.kind][o.name]
			switch {
			case m == nil:
				names[o.kind][o.name] = &meant{o.value, o.unsure, at.level}
				order = append(order, told{kind: o.kind, name: o.name})
			case m.level == at.level:
				m.unsure = m.unsure || o.unsure || m.value != o.value
			}
		}
	}
	for _, o := range order {
		m := names[o.kind][o.name]
		switch {
		case m.unsure || len(out.Defines)+len(out.Symbols) >= maxDefines:
		case o.kind == tellSymbol:
			if set := (analysis.Settings{Symbols: []string{o.name + "=" + m.value}}); set.Resolve() == nil {
				out.Symbols = append(out.Symbols, set.Symbols...)
			}
		case m.value == "":
			out.Defines = append(out.Defines, o.name)
		default:
			out.Defines = append(out.Defines, o.name+"="+m.value)
		}
	}
	return out
}

// Told is what build files say of a source beside the target, where no compilation database
// has the source.
func Told(f *BuildFiles, c *Commands, set *analysis.Settings, source string, b *Bounds) analysis.Settings {
	if cmd := c.Find(source, set.CompileCommands, b); source == "" || cmd != nil && cmd.Named {
		return analysis.Settings{}
	}
	return f.Options(source, b)
}

// fileTold is a build file that speaks for a source.
type fileTold struct {
	dir, level, top string
	text            buildText
	tells           *tellings
}

// prelude is the file that -include names, looked for beside the build file, at the top of
// the project, and in the folders that the build file gives; empty: it is in none of them.
func (f *fileTold) prelude(name string, b *Bounds) string {
	name = inTree(name, f.text.vars)
	if ext := filepath.Ext(name); ext != ".h" && ext != ".inc" && ext != ".hh" {
		return "" // the dependencies of make
	}
	folders := []string{f.dir, f.top}
	for _, dir := range f.text.dirs {
		dir = inTree(dir, f.text.vars)
		folders = append(folders, filepath.Join(f.dir, dir), filepath.Join(f.top, dir))
	}
	for _, dir := range folders {
		if path := filepath.Join(dir, name); b.holds(filepath.Dir(path)) && b.Stamp(path) != (Stamp{}) {
			return path
		}
	}
	return ""
}

// variables is what several build files say of variables.
type variables struct {
	values  map[string]string
	unclear map[string]bool
	uses    map[string][]use
}

func together(files []fileTold) *variables {
	v := &variables{map[string]string{}, map[string]bool{}, map[string][]use{}}
	for _, f := range files {
		t := f.tells
		for name, value := range t.values {
			if old, ok := v.values[name]; ok && old != value {
				v.unclear[name] = true
			}
			v.values[name] = value
		}
		for name := range t.unclear {
			v.unclear[name] = true
		}
		for _, u := range t.uses {
			v.uses[u.name] = append(v.uses[u.name], u)
		}
	}
	return v
}

// holds says whether an option that is for a target or section is for this source, or for
// all targets and sections alike.
func (v *variables) holds(t *tellings, o *told) bool {
	if o.holder == "" || o.only != nil {
		return true
	}
	for _, h := range t.holders {
		if !slices.ContainsFunc(t.options, func(x told) bool {
			return x.holder == h && x.kind == o.kind && x.name == o.name && x.value == o.value && !x.unsure
		}) {
			return false
		}
	}
	return true
}

// used says whether a variable gets, outside of conditions, into a command for a source.
func (v *variables) used(name, stem string, depth int) bool {
	return depth < 5 && slices.ContainsFunc(v.uses[name], func(u use) bool {
		return (u.only == nil || slices.Contains(u.only, stem)) && (u.by == "" || v.used(u.by, stem, depth+1))
	})
}

// simple is a value of one word.
var simple = Pattern(`^[A-Za-z0-9_.+*/<>()-]*$`)

// plain is a value with its variable replaced; not ok: that is not known for sure.
func (v *variables) plain(value string) (out string, ok bool) {
	for range 4 {
		m := usedVariable().FindStringSubmatchIndex(value)
		if m == nil {
			break
		}
		name := nameIn(value, m)
		given, known := v.values[name]
		if !known || v.unclear[name] {
			return "", false
		}
		value = value[:m[0]] + given + value[m[1]:]
	}
	return value, simple().MatchString(value)
}
