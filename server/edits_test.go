package server

import (
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// An editWorld is what a session of edits begins with: files by name, those that are opened,
// the lines that are typed, and what the editor's settings say.
type editWorld struct {
	name    string
	files   map[string]string
	lines   []string
	cpu     string
	dialect string // as an edited file keeps the one that it began with
}

// dotLines are typed in all sources that are no other dialect's: layout that moves, scopes
// that open and close, names that come and go.
var dotLines = []string{
	"\tmovs r0, #3", "\tadds r0, r0, r1", "\tldr r0, =0x12345678", "\tldr r1, =lamp", "\tldr r2, =STATE", "\tb near", "\tbeq near", "\tbne 1f", "1:", "2:\tnop", "\tb 2b", "\tbl set_point", "\tbl lamp_on",
	"near:", "lamp:", "far:\tbx lr", "\tcbz r0, far", "\tadr r3, lamp", "\tldr r4, lamp", "\t.word near - far", "\t.word lamp, 4", "\t.byte 1", "\t.byte . - lamp", "\t.hword 0x1234", "\t.ascii \"signal \\\"A\\\"\"",
	"\t.asciz \"é😀\"", "\t.align 2", "\t.balign 16", "\t.p2align 3, 0xff", "\t.space 6", "\t.space 250", "\t.space 1020", "\t.space COUNT * 2", "\t.fill 3, 2, 1", "\t.org . + 8", "\t.skip lamp - near", "\t.ltorg", "\t.pool",
	"\t.text", "\t.data", "\t.section .text.points, \"ax\"", "\t.pushsection .rodata", "\t.popsection", "\t.previous", "\t.subsection 1", "\t.thumb", "\t.arm", "\t.thumb_func", "\t.type lamp, %function", "\t.size lamp, . - lamp",
	"\t.global lamp", "\t.global near", "\t.weak far", "\t.equ COUNT, 3", "\t.set COUNT, COUNT + 1", "COUNT = 5", "\t.equ LIMIT, far - near", "\t.if COUNT > 3", "\t.ifdef COUNT", "\t.ifndef TRACKS", "\t.else", "\t.elseif COUNT == 2", "\t.endif",
	"\t.macro throw to, by=1\n\tmovs \\to, #\\by\n1:\tbne 1b\n\t.endm", "\tthrow r0", "\tthrow r1, 4", "\tthrow", "\t.purgem throw", "\t.rept 3", "\t.irp reg, r0, r1", "\tmovs \\reg, #0", "\t.endr", "\t.rept COUNT\n\tnop\n\t.endr",
	"\tpush {r4, lr}", "\tpop {r4, pc}", "\tpush {r4-r7, lr}", "\tbx lr", "\tmovs r0, #300", "\tmovw r0, #300", "\tite eq", "\tmoveq r0, #1", "\tmovne r0, #2", "\tadd r8, r8, #1", "\tldr.w r0, [r1, #4]", "\tldrb r0, [r1, #40]",
	"\t.cpu cortex-m0", "\t.cpu cortex-m4", "\t.arch armv7-a", "\t.syntax unified", "\t.syntax divided", "\t.fpu fpv4-sp-d16", "\tvadd.f32 s0, s1, s2", "track .req r5", "\tmovs track, #1", "\t.unreq track",
	"@ a comment", "// another é", "/* begins", "ends */", "\"", "# text", "\t.include \"points.inc\"", "\t.include \"none.inc\"", "\t.incbin \"lamps.bin\"", "\t.incbin \"lamps.bin\", 1, 2", "@ narrowgauge: disable unreachable", "\tnop ; nop", "\tudf #0", "\t.end", "", "",
	"\tsvc 0", "\tmsr primask, r0", "\ttbb [pc, r0]", "\tldm r0!, {r1-r3}", "\tstr r0, [sp, #4]", "\tsub sp, #8", "\tadd sp, #8", "\tb .", "\tbl . + 4", "\t.inst 0xbf00", "\t.cfi_startproc", "\t.fnstart", "\t.err", "\t.print \"x\"",
}

// editWorlds are the programs that are edited. All invented.
func editWorlds(t *testing.T) []editWorld {
	read := func(names ...string) map[string]string {
		out := map[string]string{}
		for _, name := range names {
			text, err := os.ReadFile(filepath.Join("../analysis/testdata", name))
			if err != nil {
				t.Fatal(err)
			}
			out[filepath.Base(name)] = string(text)
		}
		return out
	}
	head := "\t.syntax unified\n\t.cpu cortex-m4\n\t.thumb\n\t.text\n"
	dots := map[string]string{
		"main.s": head + "\t.include \"points.inc\"\n\t.global main\n\t.thumb_func\nmain:\tpush {r4, lr}\n\tmovs r0, #POINT\n\tbl set_point\n\tldr r1, =lamp_on\n\tblx r1\n\tldr r2, =0x1234\n" +
			"near:\tcmp r0, #2\n\tbeq far\n\t.space 120\n\tldr r3, lamp\n\tcbz r3, far\n\tdelay r0\nfar:\tpop {r4, pc}\n\t.align 2\nlamp:\t.word near, far - near\n\t.ltorg\n\t.rept 4\n\tnop\n\t.endr\n" +
			"\t.section .rodata\ntext:\t.asciz \"Signal é😀\"\n\t.text\n\t.macro both a, b\n\tmovs r0, \\a\n\tmovs r1, \\b\n\t.endm\n\tboth #1, #2\n\tboth 3, 4\n\tbx lr\n",
		"lamps.s":    head + "\t.global lamp_on, set_point\n\t.type lamp_on, %function\n@ Lights the lamp of a signal.\n@ r0: its number\nlamp_on:\n\tldr r1, =STATE\n\tstrb r0, [r1]\n\tbx lr\n\t.type set_point, %function\nset_point:\n\tcmp r0, #3\n\tite eq\n\tmoveq r0, #1\n\tmovne r0, #2\n\tb lamp_on\n\t.bss\nSTATE:\t.space 8\n",
		"points.inc": "\t.equ POINT, 4\n\t.equ TRACKS, 8\n\t.macro delay reg\n\tmovs \\reg, #TRACKS\n1:\tsubs \\reg, #1\n\tbne 1b\n\t.endm\n",
		"lamps.bin":  "lamps and points",
	}
	pre := map[string]string{
		"box.S": "#include \"box.h\"\n" + head + "#define TWICE(x) ((x) + (x))\n#if BOX > 1\n\t.global box\n#endif\nbox:\tmovs r0, #TWICE(LEVER)\n#ifdef SLOW\n\tnop\n#else\n\tbl wait\n#endif\n\tldr r1, =BASE + 4\n\tSTORE(r0, r1)\n\tbx lr\nENTRY(wait)\n\tsubs r0, #1\n\tbne wait\n\tbx lr\n\t.ltorg\n",
		"box.h": "#ifndef BOX_H\n#define BOX_H\n#define BOX 2\n#define LEVER 7\n#define BASE 0x40000000\n#define STORE(a, b) str a, [b]\n#define ENTRY(name) .global name; .thumb_func; name:\n#endif\n",
	}
	arm := map[string]string{
		"arm.s": "\t.syntax unified\n\t.arch armv5te\n\t.arm\n\t.global start\nstart:\tldr r0, =table\n\tldr pc, [r0, r1, lsl #2]\ntable:\t.word one, two\none:\tmov r0, #1\n\tblx thumbed\n\tbeq two\n\tldr r1, =0x10203040\n\tbx lr\ntwo:\tstmfd sp!, {r4-r6, lr}\n\tadr r2, table\n\tldmfd sp!, {r4-r6, pc}\n\t.ltorg\n" +
			"\t.thumb\n\t.thumb_func\nthumbed:\tlsls r0, r0, #2\n\tb 1f\n\t.space 2040\n1:\tbx lr\n",
	}
	columns := read("columns/switch-m4.s", "columns/switch.inc", "columns/port-m0.s", "columns/uart-a32.s")
	modules := read("modules/sensors-m0.s", "modules/lamps-m0.s", "modules/switch-m4.s")
	preLines := append([]string{"#if BOX > 1", "#ifdef SLOW", "#else", "#elif LEVER", "#endif", "#define SLOW", "#define LEVER 9", "#undef SLOW", "#define TWO(a, b) a; b", "\tTWO(nop, nop)", "\tmovs r0, #LEVER", "#include \"none.h\"", "\tSTORE(r0, r1)", "ENTRY(far)", "#define LONG movs r0, \\\n\t#1", "\tLONG"}, dotLines...)
	columnLines := []string{"        movs    r0, #1", "        ldr     r0, =0x12345678", "        b       near", "near    nop", "lamp    DCD     near", "        DCB     1, 2", "        DCW     3", "        ALIGN", "        ALIGN   8, 2", "        SPACE   250", "        SPACE   1020", "COUNT   EQU     3", "        GBLA    tracks", "tracks  SETA    tracks + 1", "        IF      COUNT > 2", "        ELSE", "        ENDIF", "        WHILE   tracks < 4", "        WEND", "        MACRO\n$name   throw   $to\n$name   movs    $to, #1\n        MEND", "        throw   r0", "one     throw   r1", "        AREA    |.data|, DATA", "        AREA    code, CODE, READONLY", "far     PROC", "        ENDP", "        LTORG", "        EXPORT  near", "        IMPORT  lamp_on", "        bl      lamp_on", "        GET     switch.inc", "        GET     none.inc", "        THUMB", "        ARM", "task2   RN      r4", "1       nop", "        b       %b1", "        bne     %f2", "2       bx      lr", "; a comment é😀", "/*", "*/", "        =       \"text\", 0", "        END", "        INCBIN  lamps.bin", "        movs    r0, #300", "        beq     far", "        PRESERVE8", "        ROUT", "", "        cbz     r0, far", "        IF      :DEF: COUNT"}
	moduleLines := []string{"        MOVS    R0, #1", "        LDR     R0, =0x12345678", "        B       near", "near:   NOP", "lamp:   DC32    near", "        DC8     1, 2", "        DC16    3", "        ALIGNROM 2", "        DS8     250", "COUNT2  EQU     3", "I       SET     4", "I       SET     I + 1", "        IF      I > 4", "        ELSE", "        ENDIF", "        REPT    2", "        ENDR", "throw   MACRO   to\n        MOVS    to, #1\n        ENDM", "        throw   R0", "        SECTION .rodata:CONST(2)", "        SECTION .text:CODE(1)", "        LTORG", "        PUBLIC  near", "        EXTERN  lamp_on", "        BL      lamp_on", "#define TRACKS 4", "#if TRACKS > 3", "#else", "#endif", "        MOVS    R0, #TRACKS", "        THUMB", "        ARM", "; a comment é😀", "/*", "*/", "        END", "        MOVS    R0, #300", "        BEQ     near", "        DATA", "", "        CBZ     R0, near", "        MODULE  more", "        ENDMOD"}
	return []editWorld{
		{"dots", dots, dotLines, "cortex-m4", "dots"}, {"dots", dots, dotLines, "", "dots"},
		{"preprocessor", pre, preLines, "cortex-m4", "dots"}, {"preprocessor", pre, preLines, "", "dots"},
		{"a32", arm, dotLines, "arm926ej-s", "dots"}, {"a32", arm, dotLines, "", "dots"},
		{"columns", columns, columnLines, "cortex-m4", "columns"}, {"columns", columns, columnLines, "", "columns"},
		{"modules", modules, moduleLines, "cortex-m4", "modules"}, {"modules", modules, moduleLines, "", "modules"},
	}
}

// twin is a client with what it shows.
type twin struct {
	*client
	shown map[string]string // the findings, by document
}

func (w *twin) read() map[string]string {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, m := range w.log {
		var p struct {
			URI         string          `json:"uri"`
			Diagnostics json.RawMessage `json:"diagnostics"`
		}
		if m.Method == "textDocument/publishDiagnostics" && json.Unmarshal(m.Params, &p) == nil {
			w.shown[p.URI] = string(p.Diagnostics)
		}
	}
	w.log = nil
	return maps.Clone(w.shown)
}

// editor is one session of edits: documents, with what was done to them.
type editor struct {
	t     *testing.T
	rand  *rand.Rand
	world editWorld
	enc   encoding
	dir   string
	cache string
	twin  *twin
	docs  map[string]*edited // by name
	names []string           // of docs
	did   []string           // since the last comparison
	clip  string             // what was cut or copied last
	pulls bool               // findings are asked for; else they come
}

// edited is an open document.
type edited struct {
	uri     string
	version int
	text    string
	was     string // before the last message
	last    []obj  // the changes of the last message; nil: it has none that is not saved
	undo    []string
	redo    []string
}

// dial starts a server. It guesses no target: that is done at certain times only, from what lies
// beside a document then.
func (e *editor) dial() *twin {
	w := &twin{dial(e.t, Options{CacheDir: e.cache, acrossDelay: time.Nanosecond}), map[string]string{}}
	caps := allCaps()
	caps["general"] = obj{"positionEncodings": []string{string(e.enc)}}
	w.initialize(caps, obj{"rootUri": fileURI(e.dir), "initializationOptions": obj{"cpu": e.world.cpu, "dialect": e.world.dialect, "guess": "never"}})
	return w
}

func newEditor(t *testing.T, world editWorld, enc encoding, seed uint64) *editor {
	e := &editor{t: t, rand: reftest.Rand(seed, 41), world: world, enc: enc, dir: t.TempDir(), cache: t.TempDir(), docs: map[string]*edited{}, pulls: seed%3 == 0}
	for name, text := range world.files {
		if e.rand.IntN(4) == 0 && name != "lamps.bin" {
			text = strings.ReplaceAll(text, "\n", "\r\n")
		}
		if err := os.WriteFile(filepath.Join(e.dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if name != "lamps.bin" {
			e.docs[name] = &edited{uri: fileURI(filepath.Join(e.dir, name)), version: 1, text: text}
		}
	}
	e.names = slices.Sorted(maps.Keys(e.docs))
	e.twin = e.dial()
	for _, name := range e.names {
		e.twin.open(e.docs[name].uri, 1, e.docs[name].text)
	}
	return e
}

// anchor is a place in a text where editing goes on, mostly at a line's start or end.
func (e *editor) anchor(text string) int {
	at := e.rand.IntN(len(text) + 1)
	switch e.rand.IntN(3) {
	case 0:
		at = strings.LastIndexByte(text[:at], '\n') + 1
	case 1:
		if n := strings.IndexByte(text[at:], '\n'); n >= 0 {
			at += n
		}
	}
	return legal(text, at)
}

// legal is the next place that a position can name: none in a character or a CR LF.
func legal(text string, at int) int {
	for 0 < at && at < len(text) && (text[at]&0xc0 == 0x80 || text[at-1] == '\r' && text[at] == '\n') {
		at++
	}
	return at
}

// lines is the stretch of some whole lines.
func (e *editor) lines(text string) analysis.Span {
	a := strings.LastIndexByte(text[:e.rand.IntN(len(text)+1)], '\n') + 1
	b := a
	for range 1 + e.rand.IntN(1+e.rand.IntN(6)) {
		if n := strings.IndexByte(text[b:], '\n'); n >= 0 {
			b += n + 1
		}
	}
	return analysis.Span{Start: a, End: b}
}

// typed are the single letters that one types.
var typedLetters = []string{"a", "l", "r", "0", "1", "#", ",", " ", "\t", "\n", "\r\n", "\r", ":", "\"", "@", ";", "/", "*", "[", "]", "{", "}", ".", "\\", "=", "é", "😀", "𝔸", "-", "(", ")"}

// pick makes one change: what is replaced, and by what.
func (e *editor) pick(text string) (analysis.Span, string) {
	at := e.anchor(text)
	here := analysis.Span{Start: at, End: at}
	newline := "\n"
	if strings.Contains(text, "\r\n") && e.rand.IntN(8) > 0 {
		newline = "\r\n"
	}
	line := func() string {
		return strings.ReplaceAll(e.world.lines[e.rand.IntN(len(e.world.lines))], "\n", newline) + newline
	}
	grown := len(text) > 2*len(e.world.files[e.names[0]])+6000
	switch k := e.rand.IntN(100); {
	case k < 22 && !grown:
		here.Start = strings.LastIndexByte(text[:at], '\n') + 1
		here.End = here.Start
		return here, line()
	case k < 40:
		return here, typedLetters[e.rand.IntN(len(typedLetters))]
	case k < 52: // backspace, or more
		to := at
		for range 1 + e.rand.IntN(1+e.rand.IntN(5)) {
			to = legal(text, min(to+1, len(text)))
		}
		return analysis.Span{Start: at, End: to}, ""
	case k < 66 || grown && k < 90: // lines away
		span := e.lines(text)
		e.clip = text[span.Start:span.End]
		return span, ""
	case k < 74: // copied
		span := e.lines(text)
		e.clip = text[span.Start:span.End]
		return analysis.Span{Start: span.End, End: span.End}, e.clip
	case k < 82: // pasted
		here.Start = strings.LastIndexByte(text[:at], '\n') + 1
		here.End = here.Start
		return here, e.clip
	case k < 92: // a line by another one
		span := e.lines(text)
		return span, line()
	default: // a paste of several
		var b strings.Builder
		for range e.rand.IntN(12) {
			b.WriteString(line())
		}
		return here, b.String()
	}
}

// change sends changes of a document, one or with several cursors, and keeps them.
func (e *editor) change(name string) {
	d := e.docs[name]
	before, changes := d.text, []obj{}
	apply := func(span analysis.Span, with string) {
		f := newText(syntax.Parse(d.text))
		changes = append(changes, obj{"range": f.rangeOf(span, e.enc), "text": with})
		e.did = append(e.did, fmt.Sprintf("%s: %d to %d of %d by %q", name, span.Start, span.End, len(d.text), with))
		d.text = d.text[:span.Start] + with + d.text[span.End:]
	}
	switch k := e.rand.IntN(40); {
	case k < 4 && len(d.undo) > 0, k < 6 && len(d.redo) > 0: // undone or done again, as a change of what differs
		from, to := &d.undo, &d.redo
		if k >= 4 || len(d.undo) == 0 {
			from, to = to, from
		}
		want := (*from)[len(*from)-1]
		*from, *to = (*from)[:len(*from)-1], append(*to, before)
		a := 0
		for a < min(len(before), len(want)) && before[a] == want[a] {
			a++
		}
		for a > 0 && (legal(before, a) != a || legal(want, a) != a || before[a-1] == '\r') {
			a--
		}
		z := 0
		for z < min(len(before), len(want))-a && before[len(before)-1-z] == want[len(want)-1-z] {
			z++
		}
		for z > 0 && legal(before, len(before)-z) != len(before)-z {
			z--
		}
		apply(analysis.Span{Start: a, End: len(before) - z}, want[a:len(want)-z])
	case k < 10: // several cursors: from the last to the first
		with := typedLetters[e.rand.IntN(len(typedLetters))]
		var ats []int
		for range 2 + e.rand.IntN(4) {
			ats = append(ats, e.anchor(d.text))
		}
		slices.Sort(ats)
		for _, at := range slices.Backward(slices.Compact(ats)) {
			apply(analysis.Span{Start: at, End: at}, with)
		}
	case k == 10: // the whole text
		changes = append(changes, obj{"text": d.text})
	default:
		apply(e.pick(d.text))
	}
	if d.text != before && len(d.undo) < 50 {
		d.undo = append(d.undo, before)
	}
	d.was, d.last = before, changes
	d.version++
	e.twin.notify("textDocument/didChange", obj{"textDocument": obj{"uri": d.uri, "version": d.version}, "contentChanges": changes})
}

// settle changes nothing in each document, so that nothing counts as being typed, after writing
// all where they are saved.
func (e *editor) settle(save bool) {
	for _, name := range e.names {
		if !save {
			break
		}
		if err := os.WriteFile(filepath.Join(e.dir, name), []byte(e.docs[name].text), 0o644); err != nil {
			e.t.Fatal(err)
		}
	}
	for _, name := range e.names {
		d := e.docs[name]
		d.last = nil
		d.version++
		if save {
			e.twin.notify("textDocument/didSave", obj{"textDocument": obj{"uri": d.uri}})
		}
		// A letter at the start, and away again: an edit of blanks would leave it where it was typed.
		e.twin.notify("textDocument/didChange", obj{"textDocument": obj{"uri": d.uri, "version": d.version}, "contentChanges": []obj{
			{"range": rng(0, 0, 0, 0), "text": "x"}, {"range": rng(0, 0, 0, 1), "text": ""}}})
	}
}

// fresh is a server that has seen nothing of the edits but the last message, as it tells
// where something is being typed.
func (e *editor) fresh() *twin {
	w := e.dial()
	for _, name := range e.names {
		d := e.docs[name]
		if d.last == nil {
			w.open(d.uri, d.version, d.text)
			continue
		}
		w.open(d.uri, d.version-1, d.was)
		w.notify("textDocument/didChange", obj{"textDocument": obj{"uri": d.uri, "version": d.version}, "contentChanges": d.last})
	}
	return w
}

// A put question is a method with its parameters.
type put struct {
	method string
	params obj
}

// questions are all that is asked of a document: at places by chance, and as a whole.
func (e *editor) questions(d *edited) (out []put) {
	ref := obj{"uri": d.uri}
	f := newText(syntax.Parse(d.text))
	whole := f.rangeOf(analysis.Span{End: len(d.text)}, e.enc)
	if e.pulls {
		out = append(out, put{"textDocument/diagnostic", obj{"textDocument": ref}})
	}
	for _, m := range []string{"documentSymbol", "foldingRange", "codeLens", "documentLink", "semanticTokens/full"} {
		out = append(out, put{"textDocument/" + m, obj{"textDocument": ref}})
	}
	out = append(out, put{"narrowgauge/regions", obj{"textDocument": ref}}, put{"textDocument/inlayHint", obj{"textDocument": ref, "range": whole}},
		put{"textDocument/formatting", obj{"textDocument": ref, "options": obj{"tabSize": 8, "insertSpaces": false}}})
	for range 4 {
		at := e.anchor(d.text)
		if e.rand.IntN(3) > 0 { // in a word
			at = strings.IndexAny(d.text[at:]+"r", "abdlmnprst") + at
		}
		p := f.position(min(at, len(d.text)), e.enc)
		for _, m := range []string{"hover", "completion", "signatureHelp", "definition", "references", "documentHighlight", "prepareRename", "prepareCallHierarchy"} {
			out = append(out, put{"textDocument/" + m, obj{"textDocument": ref, "position": p, "context": obj{"includeDeclaration": true}}})
		}
		out = append(out, put{"narrowgauge/target", obj{"textDocument": ref, "position": p}},
			put{"textDocument/selectionRange", obj{"textDocument": ref, "positions": []any{p}}})
	}
	p := f.position(e.anchor(d.text), e.enc)
	return append(out, put{"textDocument/codeAction", obj{"textDocument": ref, "range": obj{"start": p, "end": p}, "context": obj{"diagnostics": []obj{}}}})
}

// ask puts questions at once, and gives the answers in their order.
func (w *twin) ask(list []put) (out []string) {
	ids := make([]int, len(list))
	for i, q := range list {
		ids[i] = w.start(q.method, q.params)
	}
	for i := range list {
		m := w.reply(ids[i])
		text := string(m.Result)
		if m.Error != nil {
			text = fmt.Sprint(m.Error.Code, m.Error.Message)
		}
		var result map[string]any
		if json.Unmarshal(m.Result, &result) == nil && result["resultId"] != nil && list[i].method == "textDocument/semanticTokens/full" {
			data, _ := json.Marshal(result["data"]) // the name of the state is its server's
			text = string(data)
		}
		out = append(out, text)
	}
	return out
}

// compare asks both servers the same, and again while they differ: findings about several
// files come late. The number is that of the answers.
func (e *editor) compare() (answers int) {
	// A fresh server guesses anew.
	e.settle(e.world.cpu == "" || e.rand.IntN(2) == 0)
	w := e.fresh()
	var list []put
	for _, name := range e.names {
		list = append(list, e.questions(e.docs[name])...)
	}
	until := time.Now().Add(patience / 2)
	for wait := time.Millisecond; ; wait = min(2*wait, 200*time.Millisecond) {
		got, want := e.twin.ask(list), w.ask(list)
		shown, fresh := e.twin.read(), w.read()
		bad := ""
		for i, q := range list {
			if got[i] != want[i] {
				params, _ := json.Marshal(q.params)
				bad = fmt.Sprintf("%s %s:\n%s\na fresh server:\n%s", q.method, params, aside(got[i], want[i]), aside(want[i], got[i]))
				break
			}
		}
		for _, name := range e.names {
			if uri := e.docs[name].uri; bad == "" && !e.pulls && shown[uri] != fresh[uri] {
				bad = fmt.Sprintf("findings shown of %s:\n%s\na fresh server:\n%s", name, aside(shown[uri], fresh[uri]), aside(fresh[uri], shown[uri]))
			}
		}
		if bad == "" {
			break
		}
		if time.Now().After(until) {
			texts := ""
			for _, name := range e.names {
				texts += fmt.Sprintf("%s: %q\n", name, e.docs[name].text)
			}
			e.t.Fatalf("%s (%s, cpu %q): %s\nafter\n%s\n%s", e.world.name, e.enc, e.world.cpu, bad, strings.Join(e.did, "\n"), texts)
		}
		time.Sleep(wait)
	}
	w.in.Close()
	e.did = nil
	return len(list) + len(e.names)
}

// resultIDs tell what they are of, and differ with it.
var resultIDs = regexp.MustCompile(`"resultId":"[^"]*",?`)

// aside is a text from a little before the place where it differs from another one.
func aside(text, other string) string {
	text, other = resultIDs.ReplaceAllString(text, ""), resultIDs.ReplaceAllString(other, "")
	n := 0
	for n < min(len(text), len(other)) && text[n] == other[n] {
		n++
	}
	n = max(0, n-300)
	return "…" + text[n:min(len(text), n+900)]
}

// TestEdits edits programs by chance, as one types, pastes, undoes and edits with several
// cursors; at intervals all answers have to be those of a server that has just been started.
func TestEdits(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	const apart = 40 // edits
	worlds := editWorlds(t)
	edits, answers, sessions := 0, 0, 0
	for total := reftest.Count(320, 1600, 100_000); edits < total; sessions++ {
		enc := []encoding{utf16Columns, utf8Columns}[sessions/len(worlds)%2]
		t.Run(fmt.Sprint(sessions), func(t *testing.T) { // a session's servers end with it
			e := newEditor(t, worlds[sessions%len(worlds)], enc, uint64(sessions))
			for range 4 {
				for range apart {
					name := e.names[e.rand.IntN(len(e.names))]
					e.change(name)
					edits++
					switch e.rand.IntN(8) { // an editor asks between
					case 0, 1, 2:
						e.twin.ask([]put{{"textDocument/foldingRange", obj{"textDocument": obj{"uri": e.docs[name].uri}}}})
					case 3:
						e.twin.ask(e.questions(e.docs[name])[:8])
					}
				}
				answers += e.compare()
			}
		})
		if t.Failed() {
			break
		}
	}
	proof.Counted("edits: %d in %d sessions, answers like those of a fresh server: %d", edits, sessions, answers)
}
