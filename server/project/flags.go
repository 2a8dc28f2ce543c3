package project

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis"
)

// The bounds of a command: the size of a file with arguments (@file) in bytes,
// how many such files there are, and how many arguments.
const (
	maxResponse  = 1 << 20
	maxResponses = 20
	maxArguments = 100_000
	maxFolders   = 2000 // to look for included files in
	maxPreludes  = 200  // files to include in front
	maxNotes     = 20
	maxParts     = 30  // of a name with extensions
	maxDigits    = 100 // of a number
)

// words splits a command as a POSIX shell does: quotes and backslashes (IEEE
// Std 1003.1, "Shell Command Language", 2.2 Quoting). Nothing is expanded.
func words(command string) (out []string) {
	var b strings.Builder
	in := false // a word has begun
	for i := 0; i < len(command); i++ {
		switch c := command[i]; c {
		case ' ', '\t', '\n', '\r':
			if in {
				out = append(out, b.String())
				b.Reset()
				in = false
			}
		case '\'':
			in = true
			n := strings.IndexByte(command[i+1:], '\'')
			if n < 0 {
				n = len(command) - i - 1
			}
			b.WriteString(command[i+1 : i+1+n])
			i += n + 1
		case '"':
			in = true
			for i++; i < len(command) && command[i] != '"'; i++ {
				if command[i] == '\\' && i+1 < len(command) && strings.IndexByte("$`\"\\\n", command[i+1]) >= 0 {
					if i++; command[i] == '\n' {
						continue
					}
				}
				b.WriteByte(command[i])
			}
		case '\\':
			if i++; i < len(command) && command[i] != '\n' {
				in = true
				b.WriteByte(command[i])
			}
		default:
			in = true
			b.WriteByte(c)
		}
	}
	if in {
		out = append(out, b.String())
	}
	return out
}

// windowsWords splits a command as the start-up code of programs on Windows does
// (Microsoft, "Parsing C command-line arguments"): a backslash stands for itself, except
// in front of a quote.
func windowsWords(command string) (out []string) {
	var b strings.Builder
	in, quoted := false, false
	for i := 0; i < len(command); i++ {
		n := i
		for n < len(command) && command[n] == '\\' {
			n++
		}
		count := n - i
		switch i = n; {
		case i < len(command) && command[i] == '"':
			in = true
			b.WriteString(command[n-count : n-count+count/2])
			switch {
			case count%2 == 1:
				b.WriteByte('"')
			case quoted && i+1 < len(command) && command[i+1] == '"':
				b.WriteByte('"')
				i++
			default:
				quoted = !quoted
			}
		default:
			in = in || count > 0
			b.WriteString(command[n-count : n])
			switch {
			case i == len(command):
			case !quoted && strings.IndexByte(" \t\r\n", command[i]) >= 0:
				if in {
					out = append(out, b.String())
					b.Reset()
					in = false
				}
			default:
				in = true
				b.WriteByte(command[i])
			}
		}
	}
	if in {
		out = append(out, b.String())
	}
	return out
}

// words splits the command of an entry. One that ran in a folder with a drive, or on a
// share, ran on Windows.
func (e *entry) words() []string {
	d := e.directory
	if len(d) > 2 && d[1] == ':' && (d[2] == '\\' || d[2] == '/') && (d[0]|0x20) >= 'a' && (d[0]|0x20) <= 'z' || strings.HasPrefix(d, `\\`) {
		return windowsWords(e.line)
	}
	return words(e.line)
}

// tool is the kind of program that a command calls.
type tool int

const (
	compiler  tool = iota // calls the assembler itself
	clang                 // has its assembler inside
	assembler             // is the assembler
)

// toolOf finds the program in a command, after launchers such as a compiler
// cache, and says what kind it is.
func toolOf(args []string) (kind tool, program string, rest []string) {
	for i, a := range args {
		if i > 3 || strings.HasPrefix(a, "-") {
			break
		}
		name := strings.TrimSuffix(strings.ToLower(a[strings.LastIndexAny(a, `/\`)+1:]), ".exe")
		name = strings.TrimRight(name, "-.0123456789")
		switch {
		case name == "as" || strings.HasSuffix(name, "-as"):
			return assembler, a, args[i+1:]
		case strings.Contains(name, "clang"):
			return clang, a, args[i+1:]
		case strings.HasSuffix(name, "cc") || strings.HasSuffix(name, "c++") || strings.HasSuffix(name, "g++") || strings.HasSuffix(name, "cpp"):
			if !strings.HasSuffix(name, "distcc") && !strings.HasSuffix(name, "icecc") && name != "ccache" {
				return compiler, a, args[i+1:]
			}
		}
	}
	return compiler, "", args[min(1, len(args)):]
}

// core is what is said about the machine, in the options that compiler and
// assembler have in common.
type core struct{ arch, cpu, fpu string }

// read takes an argument, if it is about the machine.
func (c *core) read(a string) bool {
	name, v, given := strings.Cut(a, "=")
	if !given {
		return false
	}
	switch name {
	case "-march":
		c.arch = v
	case "-mcpu":
		c.cpu = v
	case "-mfpu":
		c.fpu = v
	default:
		return false
	}
	return true
}

// flags collects what a command's arguments say.
type flags struct {
	e       *entry
	kind    tool
	in      *Bounds
	notes   []string
	refused []string

	core                        // as the compiler sees it
	floatABI, target            string
	thumb                       bool
	language, spoken            string
	as                          core // as the assembler sees it
	start, it                   string
	defines, symbols            []string
	quoted, dirs, system, after []string // include folders, by class
	forced                      []string
	place                       map[string]int // in defines, by name; see define
}

// interpret turns the command into settings.
func (e *entry) interpret(db string, b *Bounds, known *tools) *Command {
	args := e.args
	if len(args) == 0 {
		args = e.words()
	}
	f := &flags{e: e, in: b}
	var program string
	f.kind, program, args = toolOf(args)
	left := maxResponses
	args = f.responses(args, &left)
	if len(args) > maxArguments {
		args = args[:maxArguments]
	}
	if f.kind == assembler {
		f.assembler(args)
	} else {
		f.compiler(args)
	}
	cmd := &Command{Path: db, Named: true, Settings: f.settings(), Toolchain: known.folders(f.kind, program, b)}
	for _, n := range f.notes {
		cmd.Notes = append(cmd.Notes, fmt.Sprintf("%s, %s: %s.", db, e.file, n))
	}
	for _, path := range f.refused {
		cmd.Refused = append(cmd.Refused, fmt.Sprintf("%s, %s: %s", db, e.file, refused(path)))
	}
	return cmd
}

// responses puts the arguments in files that @file names in its place.
func (f *flags) responses(args []string, left *int) []string {
	if !slices.ContainsFunc(args, func(a string) bool { return strings.HasPrefix(a, "@") }) {
		return args
	}
	var out []string
	for _, a := range args {
		if name, ok := strings.CutPrefix(a, "@"); ok && *left > 0 && len(out) < maxArguments {
			*left--
			path := f.e.path(name)
			info, err := f.in.Stat(path)
			if errors.Is(err, ErrOutside) && !slices.Contains(f.refused, path) {
				f.refused = append(f.refused, path)
			}
			if err == nil && info.Size() <= maxResponse {
				if data, err := f.in.ReadFile(path); err == nil {
					out = append(out, f.responses(words(string(data)), left)...)
					continue
				}
			}
		}
		out = append(out, a)
	}
	return out
}

// option reads an option with a value that is joined to it or follows.
func option(args []string, i *int, name string) (string, bool) {
	v, ok := strings.CutPrefix(args[*i], name)
	if !ok {
		return "", false
	}
	if v == "" {
		if *i++; *i < len(args) {
			v = args[*i]
		}
	}
	return v, true
}

// compiler reads arguments of a compiler: those of the common command line of
// GCC and Clang (GCC manual, "Invoking GCC").
func (f *flags) compiler(args []string) {
	var forAssembler []string
	for i := 0; i < len(args); i++ {
		a := args[i]
		if a == "" || a[0] != '-' {
			if f.spoken == "" && f.e.path(a) == f.e.path(f.e.file) {
				f.spoken = f.language + " "
			}
			continue
		}
		if list, ok := strings.CutPrefix(a, "-Wa,"); ok {
			forAssembler = append(forAssembler, strings.Split(list, ",")...)
			continue
		}
		if list, ok := strings.CutPrefix(a, "-Wp,"); ok {
			more := strings.Split(list, ",")
			for k := 0; k < len(more); k++ {
				f.preprocessor(more, &k)
			}
			continue
		}
		if f.preprocessor(args, &i) || f.machine(a) {
			continue
		}
		switch a {
		case "-Xassembler":
			if i++; i < len(args) {
				forAssembler = append(forAssembler, args[i])
			}
		case "-target":
			if i++; i < len(args) {
				f.target = args[i]
			}
		case "-o", "-MF", "-MT", "-MQ", "-Xlinker", "-Xclang", "-mllvm", "-T", "-u", "--param":
			i++
		default:
			if v, ok := option(args, &i, "-x"); ok {
				f.language = v
			} else if v, ok := strings.CutPrefix(a, "--target="); ok {
				f.target = v
			}
		}
	}
	f.assembler(forAssembler)
}

// preprocessor reads one argument about the preprocessor, if it is one.
func (f *flags) preprocessor(args []string, i *int) bool {
	for _, class := range []struct {
		name string
		into *[]string
	}{
		{"-iquote", &f.quoted}, {"-isystem", &f.system}, {"-idirafter", &f.after}, {"-I", &f.dirs},
	} {
		if v, ok := option(args, i, class.name); ok {
			if v != "" && v != "-" {
				*class.into = append(*class.into, f.e.path(v))
			}
			return true
		}
	}
	for _, name := range []string{"-include", "-imacros"} {
		if args[*i] == name {
			if *i++; *i < len(args) {
				f.forced = append(f.forced, args[*i])
			}
			return true
		}
	}
	if v, ok := option(args, i, "-D"); ok {
		if name := defined(v); name != "" {
			f.undefine(name)
			if f.place == nil {
				f.place = map[string]int{}
			}
			f.place[name] = len(f.defines)
			f.defines = append(f.defines, v)
		}
		return true
	}
	if v, ok := option(args, i, "-U"); ok {
		f.undefine(strings.TrimSpace(v))
		return true
	}
	return false
}

// undefine takes a macro back. Its place in the list stays, empty, as there may be very
// many.
func (f *flags) undefine(name string) {
	if i, ok := f.place[name]; ok {
		f.defines[i] = ""
		delete(f.place, name)
	}
}

// machine reads one argument about the processor, if it is one.
func (f *flags) machine(a string) bool {
	if v, ok := strings.CutPrefix(a, "-mfloat-abi="); ok {
		f.floatABI = v
		return true
	}
	if v, ok := strings.CutPrefix(a, "-mimplicit-it="); ok {
		f.it = v
		return true
	}
	switch a {
	case "-mthumb", "-mno-arm":
		f.thumb = true
	case "-marm", "-mno-thumb":
		f.thumb = false
	case "-msoft-float":
		f.floatABI = "soft"
	case "-mhard-float":
		f.floatABI = "hard"
	default:
		return f.core.read(a)
	}
	return true
}

// assembler reads arguments of the assembler.
func (f *flags) assembler(args []string) {
	for i := 0; i < len(args); i++ {
		a := args[i]
		if f.as.read(a) {
			continue
		}
		if v, ok := strings.CutPrefix(a, "-mimplicit-it="); ok {
			f.it = v
		} else if v, ok := strings.CutPrefix(strings.TrimPrefix(strings.TrimPrefix(a, "-"), "-"), "defsym"); ok && (v == "" || v[0] == '=') {
			if v = strings.TrimPrefix(v, "="); v == "" {
				if i++; i < len(args) {
					v = args[i]
				}
			}
			f.symbol(v)
		} else if v, ok := option(args, &i, "-I"); ok {
			if v != "" {
				f.dirs = append(f.dirs, f.e.path(v))
			}
		} else {
			switch a {
			case "-mthumb":
				f.start = "thumb"
			case "-marm": // of Clang's assembler
				f.start = "arm"
			case "-o", "--MD", "-MD":
				i++
			}
		}
	}
}

// note adds a sentence, as long as there are few.
func (f *flags) note(text string) {
	if len(f.notes) < maxNotes {
		f.notes = append(f.notes, text)
	}
}

// symbol takes NAME=number. The assembler reads digits as far as they go.
func (f *flags) symbol(def string) {
	name, text, ok := strings.Cut(def, "=")
	text = strings.TrimSpace(text)
	text = text[:min(len(text), maxDigits)]
	for ok && text != "" {
		if _, err := strconv.ParseInt(text, 0, 64); err == nil {
			break
		}
		text = text[:len(text)-1]
	}
	if text == "" {
		text = "0"
	}
	set := analysis.Settings{Symbols: []string{strings.TrimSpace(name) + "=" + text}}
	if !ok || set.Resolve() != nil {
		f.note(fmt.Sprintf("the symbol %.100q is not a name with a number, and is not defined", def))
		return
	}
	f.symbols = append(f.symbols, set.Symbols[0])
}

// fpuOf gives the floating-point unit that a compiler chooses for a core with
// hardware for floating point (GCC 12: -mfpu=auto, as its driver prints it).
var fpuOf = map[string]string{
	"cortex-m4": "fpv4-sp-d16", "cortex-m7": "fpv5-d16", "cortex-m33": "fpv5-sp-d16", "cortex-m35p": "fpv5-sp-d16", "cortex-m55": "fpv5-d16",
	"cortex-a5": "neon-fp16", "cortex-a7": "neon-vfpv4", "cortex-a8": "neon", "cortex-a9": "neon-fp16", "cortex-a12": "neon-vfpv4",
	"cortex-a15": "neon-vfpv4", "cortex-a17": "neon-vfpv4", "cortex-a53": "neon-fp-armv8", "cortex-a72": "neon-fp-armv8",
	"cortex-r4f": "vfpv3-d16", "cortex-r5": "vfpv3-d16", "cortex-r7": "vfpv3-d16-fp16", "cortex-r8": "vfpv3-d16-fp16", "cortex-r52": "neon-fp-armv8",
	"arm926ej-s": "vfp", "arm1136jf-s": "vfp", "arm1176jzf-s": "vfp", "mpcore": "vfp", "arm10e": "vfp", "arm946e-s": "vfp",
}

// clangArch gives the architecture in the name of a target, after "thumb" or
// "arm" (LLVM's target triples, from memory).
var clangArch = map[string]string{
	"v4t": "armv4t", "v5te": "armv5te", "v6": "armv6", "v6k": "armv6k", "v6m": "armv6-m", "v7": "armv7-a", "v7a": "armv7-a", "v7m": "armv7-m",
	"v7em": "armv7e-m", "v7r": "armv7-r", "v8a": "armv8-a", "v8r": "armv8-r", "v8m.base": "armv8-m.base", "v8m.main": "armv8-m.main",
}

// settings puts together what the assembler gets to see.
func (f *flags) settings() analysis.Settings {
	var s analysis.Settings
	s.Arch, s.CPU, s.FPU, s.StartMode = f.as.arch, f.as.cpu, f.as.fpu, f.start
	if f.kind != assembler {
		f.driver(&s)
	} else {
		s.Preprocess = "never"
	}
	s.ImplicitIT = f.it
	s.Include = distinct(slices.Concat(f.quoted, f.dirs, f.system, f.after))
	if n := len(s.Include); n > maxFolders {
		s.Include = s.Include[:maxFolders]
		f.note(fmt.Sprintf("%d include folders are more than are searched, which is %d", n, maxFolders))
	}
	if f.kind != assembler {
		f.preludes(&s)
	}
	s.Defines = append(s.Defines, slices.DeleteFunc(f.defines, func(d string) bool { return d == "" })...)
	s.Symbols = f.symbols
	f.known(&s)
	return s
}

// driver adds what a compiler tells its assembler and preprocessor.
func (f *flags) driver(s *analysis.Settings) {
	target, _, _ := strings.Cut(f.target, "-")
	sub, thumb := strings.CutPrefix(target, "thumb")
	f.thumb = f.thumb || thumb
	if !thumb {
		sub = strings.TrimPrefix(target, "arm")
	}
	if f.arch == "" && f.cpu == "" {
		f.arch = clangArch[sub]
	}
	if s.Arch == "" && s.CPU == "" {
		// GCC's driver gives only the architecture, if it has both.
		s.Arch = f.arch
		if f.arch == "" || f.kind == clang || strings.HasPrefix(f.arch, "native") {
			s.CPU = f.cpu
		}
		if f.floatABI == "soft" {
			s.Arch, s.CPU = withoutFloat(s.Arch), withoutFloat(s.CPU)
		}
	}
	hard := f.floatABI == "hard" || f.floatABI == "softfp"
	if s.FPU == "" && f.fpu != "auto" {
		s.FPU = f.fpu
	}
	if s.FPU == "" && hard && s.CPU != "" {
		s.FPU = fpuOf[strings.ToLower(s.CPU)]
	}
	if f.thumb && f.kind == clang && s.StartMode == "" {
		s.StartMode = "thumb" // GCC's driver keeps -mthumb to itself
	}
	language := f.language
	if f.spoken != "" {
		language = strings.TrimSpace(f.spoken)
	}
	switch language {
	case "assembler-with-cpp":
		s.Preprocess = "always"
	case "assembler":
		s.Preprocess = "never"
	}
	// Macros that the preprocessor has from these flags (Arm C Language
	// Extensions; GCC).
	if f.thumb {
		s.Defines = append(s.Defines, "__thumb__=1")
	}
	switch f.floatABI {
	case "hard":
		s.Defines = append(s.Defines, "__ARM_PCS_VFP=1")
	case "soft":
		s.Defines = append(s.Defines, "__SOFTFP__=1")
	}
}

// preludes adds the files that -include names. They are looked for in the folder
// of the command first. What is out of bounds there is asked for by its path, and
// found missing, unless an include folder has one of that name.
func (f *flags) preludes(s *analysis.Settings) {
	if n := len(f.forced); n > maxPreludes {
		f.forced = f.forced[:maxPreludes]
		f.note(fmt.Sprintf("%d files to include in front are more than are read, which is %d", n, maxPreludes))
	}
	for _, name := range f.forced {
		path := f.e.path(name)
		if f.in.Outside(path) && !slices.ContainsFunc(Candidates("", name, s.Include), func(p string) bool { return f.in.Stamp(p) != (Stamp{}) }) ||
			f.in.Stamp(path) != (Stamp{}) {
			name = path
		}
		s.Prelude = append(s.Prelude, name)
	}
}

// withoutFloat takes the extensions for floating point and vectors from a name.
func withoutFloat(name string) string {
	parts := strings.Split(name, "+")
	return strings.Join(slices.DeleteFunc(parts, func(x string) bool {
		return strings.HasPrefix(x, "fp") || strings.HasPrefix(x, "simd") || strings.HasPrefix(x, "neon") || strings.HasPrefix(x, "vfp") || x == "crypto"
	}), "+")
}

// known drops values that nothing knows, and says so.
func (f *flags) known(s *analysis.Settings) {
	for _, v := range []struct {
		option string
		value  *string
		try    func(v string) analysis.Settings
	}{
		{"-march", &s.Arch, func(v string) analysis.Settings { return analysis.Settings{Arch: v} }},
		{"-mcpu", &s.CPU, func(v string) analysis.Settings { return analysis.Settings{CPU: v} }},
		{"-mfpu", &s.FPU, func(v string) analysis.Settings { return analysis.Settings{FPU: v} }},
		{"-mimplicit-it", &s.ImplicitIT, func(v string) analysis.Settings { return analysis.Settings{ImplicitIT: v} }},
	} {
		old := *v.value
		if parts := strings.SplitN(old, "+", maxParts+1); len(parts) > maxParts {
			*v.value = strings.Join(parts[:maxParts], "+")
		}
		for *v.value != "" {
			set := v.try(*v.value)
			if set.Resolve() == nil {
				break
			}
			i := strings.LastIndexByte(*v.value, '+') // what is left counts
			*v.value = (*v.value)[:max(i, 0)]
		}
		if old != *v.value {
			n := fmt.Sprintf("%s=%.200s is not known", v.option, old)
			if *v.value != "" {
				n += ", which is taken as " + *v.value
			}
			f.notes = append(f.notes, n)
		}
	}
}

// Resolve puts together the settings of a source: what is written in own, the
// project file or the command line, wins over what a compilation database
// says. The second result is the database's part, nil where none names the
// source.
func (c *Commands) Resolve(own analysis.Settings, source string, b *Bounds) (analysis.Settings, *Command) {
	if !filepath.IsAbs(source) {
		return own, nil
	}
	cmd := c.Find(source, own.CompileCommands, b)
	if cmd == nil {
		return own, nil
	}
	return Under(own, cmd.Settings), cmd
}
