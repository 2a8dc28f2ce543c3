package analysis

import (
	"reflect"
	"slices"
)

// Setting defines one setting. The flags of the command line, the settings of the editors,
// the JSON schema of the project file and the documents are all made from it.
type Setting struct {
	Name    string // in JSON
	Flag    string // long name on the command line, without dashes; empty: it has none
	Letter  string // short name on the command line
	Arg     string // what the flag takes, for its help
	Help    string // the flag's help, one line
	Doc     string // all about it, as Markdown
	Values  []Value
	List    bool   // it is a list of texts, of Values where there are some
	Numbers bool   // it is an object: whole numbers from 0 on, by names
	Default string // in words; empty: there is none
	Target  bool   // it is about what lines are assembled for, or how they are spelled
	By      By     // who may say it
}

// By says where a setting may be given.
type By uint8

// The places.
const (
	Everywhere By = iota // command line, project file, editor
	User                 // command line and the user's own editor settings: a repository must not
	Editor               // the editor only
)

// Value is one of the texts that a setting may have.
type Value struct{ Text, Doc string }

func (d *Setting) takes(text string) bool {
	return slices.ContainsFunc(d.Values, func(v Value) bool { return v.Text == text })
}

func (d *Setting) words() (out []string) {
	for _, v := range d.Values {
		out = append(out, v.Text)
	}
	return out
}

// Definitions lists all settings in the order of the documentation: those of [Settings] in
// their order, then those that a project file cannot give.
func Definitions() []Setting { return slices.Clone(definitions) }

// Field is a pointer to the setting with a name: a *string, a *[]string or a *map[string]int64; nil for a name
// that is no field of Settings.
func (s *Settings) Field(name string) any {
	v := reflect.ValueOf(s).Elem()
	for i := range v.NumField() {
		if v.Type().Field(i).Tag.Get("json") == name {
			return v.Field(i).Addr().Interface()
		}
	}
	return nil
}

var definitions = []Setting{
	{Name: "arch", Flag: "arch", Target: true, Default: DefaultArch,
		Help: "architecture, with extensions (armv4t, armv7-a+fp)",
		Doc:  "An architecture as the assembler's -march takes it, with extensions (\"armv4t\", \"armv7-a+fp\")."},
	{Name: "guess", Flag: "guess", Default: "auto",
		Help:   "take the target from build files nearby or what a source needs, where nothing else says it: auto or never (default auto)",
		Doc:    "Whether the target is taken from build files near a source, or from what it needs, where neither settings nor directives say it: auto or never. A hint at the first line says what was taken, and why; one says so, too, where a source is of another architecture and left alone.",
		Values: []Value{{"auto", "From build files and from what the source needs"}, {"never", "Only settings and directives count"}}},
	{Name: "cpu", Flag: "cpu", Target: true,
		Help: "core (arm7tdmi, cortex-m0); wins over --arch",
		Doc:  "A core as -mcpu takes it (\"arm7tdmi\", \"cortex-m0\"). It wins over `arch`."},
	{Name: "fpu", Flag: "fpu", Target: true,
		Help: "floating-point unit",
		Doc:  "A floating-point unit as -mfpu takes it. Without it there is only what extensions have: no core has one by its name."},
	{Name: "startMode", Flag: "start-mode", Default: "arm, or thumb where the architecture has nothing else",
		Help:   "instruction set before the first mode directive: arm or thumb",
		Doc:    "The instruction set before the first mode directive: arm or thumb.",
		Values: []Value{{"arm", "A32"}, {"thumb", "T16, and T32 where the architecture has it"}}},
	{Name: "syntax", Flag: "syntax", Target: true, Default: "divided",
		Help:   "syntax before the first .syntax directive: unified or divided",
		Doc:    "The syntax before the first .syntax directive: unified or divided.",
		Values: []Value{{"unified", "One syntax for both instruction sets"}, {"divided", "The older syntax, one for each instruction set"}}},
	{Name: "implicitIT", Flag: "implicit-it", Default: "never",
		Help: "where the assembler inserts IT lines by itself: never, arm, thumb or always",
		Doc:  "Where the assembler inserts IT lines by itself, as its option -mimplicit-it takes it: never, arm, thumb or always. With thumb and always, a conditional line of T32 code outside of IT blocks gets one that the assembler makes; never and arm mean the same here.",
		Values: []Value{{"never", "Every IT block has its IT line in the source"}, {"arm", "The same in T32 code as never"},
			{"thumb", "The assembler inserts IT lines in T32 code"}, {"always", "The same in T32 code as thumb"}}},
	{Name: "dialect", Flag: "dialect", Default: "auto",
		Help: "how the sources are written: auto, dots, semicolon, columns or modules",
		Doc:  "How the sources are written: auto (each file as it looks), dots (directives with a dot, comments with @, statements separated by ;), semicolon (the same with ; comments and labels at column one), columns (AREA, DCD, EQU and so on, labels at column one) or modules (MODULE, SECTION, DC32).",
		Values: []Value{{"auto", "Each file as it looks"}, {"dots", "Directives with a dot, comments with @, statements separated by ;"},
			{"semicolon", "Directives with a dot, comments with ;, labels at column one"}, {"columns", "AREA, DCD, EQU and so on; comments with ;, labels at column one"},
			{"modules", "MODULE, SECTION, DC32 and so on; comments with ; or those of C, labels at column one"}}},
	{Name: "alignUnit", Flag: "align-unit", Default: "power",
		Help:   "what the number after .align counts: power or bytes",
		Doc:    "What the number after .align counts: power (of two) or bytes.",
		Values: []Value{{"power", ".align 2 aligns to 4 bytes"}, {"bytes", ".align 2 aligns to 2 bytes"}}},
	{Name: "wordBytes", Flag: "word-bytes", Default: "4",
		Help:   "how many bytes .word has: 4 or 2",
		Doc:    "How many bytes .word has: 4 or 2.",
		Values: []Value{{"4", "Words of 4 bytes"}, {"2", "Words of 2 bytes"}}},
	{Name: "include", Flag: "include", Letter: "I", Arg: "DIR", List: true,
		Help: "look for included files in `DIR` (repeatable)",
		Doc:  "The folders in which .include looks, after the folder of the including file. What is in none of them is looked for in the project."},
	{Name: "preprocess", Flag: "preprocess", Default: "auto",
		Help: "whether sources go through the C preprocessor: auto (by the name's ending, or as it looks), always or never",
		Doc:  "Whether sources go through the C preprocessor first: auto, always or never. Auto takes those with a name that ends in .S or .sx, and those with #include, or #define of a name that they use, at the first column.",
		Values: []Value{{"auto", "By the name's ending, and as the source looks"}, {"always", "All sources do"},
			{"never", "No source does"}}},
	{Name: "defines", Flag: "define", Letter: "D", List: true,
		Help: "define a macro of the preprocessor, `NAME[=TEXT]` (repeatable)",
		Doc:  "Macros of the preprocessor that are defined before the first line, as its option -D takes them: NAME, NAME=text, or NAME(parameters)=text."},
	{Name: "prelude", Flag: "prelude", List: true,
		Help: "let the preprocessor read `FILE` before the first line (repeatable)",
		Doc:  "Files that the preprocessor reads before the first line, as its option -include takes them. Only the macros in them count."},
	{Name: "symbols", Flag: "symbol", List: true,
		Help: "define an absolute symbol before the first line, `NAME=NUMBER` (repeatable)",
		Doc:  "Absolute symbols that are defined before the first line, as the assembler's option --defsym takes them: NAME=number."},
	{Name: "compileCommands", Flag: "compile-commands", Default: "auto",
		Help: "where compile flags are looked up: auto (compile_commands.json in and above the source's folder), never, or a `PATH`",
		Doc:  "Where the compile flags of the sources are looked up: auto, never, or the path of a JSON compilation database. Auto takes a compile_commands.json in a folder above the source, or in a build folder there. What any other setting says wins over it."},
	{Name: "severity", Flag: "severity", List: true,
		Help: "take the findings of a check for error, warning, information, hint or off, `CHECK=SEVERITY` (repeatable)",
		Doc:  "How severe the findings of a check are, CHECK=SEVERITY with error, warning, information, hint or off, as in code-alignment=error. What is an error by itself stays one: the assembler refuses the line, whatever is said here."},
	{Name: "format", Flag: "style", List: true,
		Help: "how lines are formatted, `PART=VALUE`, as in comments=40 (repeatable)",
		Doc:  "How formatting lays lines out, PART=VALUE; what is not said is as most lines of the file have it. Columns, from 0, for labels, instructions, directives, data, operands and comments, or keep, and for the last two space or tab as well; case=lower, upper or keep for mnemonics; commas=space, none or keep between operands; blanks=spaces, tabs or keep."},
	{Name: "budget", Flag: "budget", Numbers: true,
		Help: "how many bytes a section may take in one source, `SECTION=BYTES` (repeatable)",
		Doc:  "How many bytes sections may take in one source, or in the program that a compilation database makes of several, by their names, as in {\".text\": 16384}. What takes more gets a warning, and editors show the share."},
	{Name: "waits", Flag: "waits", Numbers: true,
		Help: "how many wait states the memory of a region has, `REGION=CYCLES` (repeatable)",
		Doc:  "How many cycles an access to a word of memory takes longer than one, by region, as in {\".text\": 2, \"stack\": 0, \"0x40000000-0x5fffffff\": 1}: a section's name, `stack`, or the first and the last address. The cycles of routines, loops and blocks count them, from none for code that is read ahead to one wait for each word of it. Without it all memory answers at once."},
	{Name: "readAlso", Flag: "read-also", Arg: "DIR", List: true, By: User,
		Help: "let sources and settings reach files in `DIR` outside of the project (repeatable)",
		Doc:  "Folders outside of the project that sources and settings may reach. Everything else outside is left unread."},
	{Name: "hints", By: Editor, List: true, Default: "literal, data, flags and value",
		Doc: "What is shown at the end of lines, as inlay hints: a list of offset, code, pool, literal, data, flags, value, or none.",
		Values: []Value{{"offset", "Where the line is in its section"}, {"code", "Its machine code"}, {"pool", "How far the word in the literal pool is from PC"},
			{"literal", "The word that a load with = gets, where the line does not say it"}, {"data", "What a load takes from constant data"},
			{"flags", "The lines that set the flags of a condition, if it is not the one above"}, {"value", "What registers hold after a line, where it is known and not said there"}, {"none", "Nothing"}}},
	{Name: "lenses", By: Editor, List: true, Default: "routine, cycles and budget",
		Doc: "What is shown over routines and sections, as lenses: a list of routine, cycles, other, budget, or none.",
		Values: []Value{{"routine", "Bytes, stack and callers"}, {"cycles", "The cycles of the shortest and the longest way"}, {"other", "The bytes that the routine has in the other instruction set"},
			{"budget", "How much of its budget a section takes"}, {"none", "Nothing"}}},
	{Name: "docsBase", By: Editor, Default: "pages in the user's cache folder that the server writes",
		Doc: "Where the explanations of the checks are: a check's page is this, `#` and its code."},
}
