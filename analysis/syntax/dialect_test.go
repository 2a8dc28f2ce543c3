package syntax

import (
	"strings"
	"testing"
)

// detectCases are beginnings of sources of a signal box, all invented: as they
// are opened, and as they are while somebody types.
var detectCases = []struct {
	name string
	want Dialect
	text string
}{
	{"statements in a row, as macros make them", Dots, "points:\n\tldr %r3, [%r1]; ldr %r4, [%r1, #4]; rev %r3, %r3;; rev %r4, %r4;;;\n\ttst %r2, #3; beq 1f; and %lr, %r3, %r2\n\tand %r0, %r1; orr %r0, %r3;;\n1:\n"},
	{"empty", Dots, ""},
	{"blank", Dots, "\n\n   \n\t\n"},
	{"neutral code", Dots, "\tmovs r0, #1\n\tbx lr\n"},
	{"slashes", Dots, "// points of the station\n\tmovs r0, #1\n"},
	{"block comment", Dots, "/* AREA reset, CODE, READONLY\n ; set the points\n ; set the signals\n EXPORT x */\n\t.text\n"},
	{"dots", Dots, "@ signals\n\t.syntax unified\n\t.thumb\n\t.global set_signal\nset_signal:\n\tmovs r0, #1 @ green\n\tbx lr\n"},
	{"dots, separators", Dots, "\t.thumb\nmain: nop ; nop\n\tmov r0, r1; bx lr\n\tadds r0, #1; subs r1, #1; bne main\n"},
	{"dots, one separator", Dots, "nop ; nop\n"},
	{"dots, a separator and nothing", Dots, "\tmov r0, r1;\n\tbx lr;\n"},
	{"dots, directives behind ;", Dots, "\t.text; .thumb; .align 2\nx: .word 1; y: .word 2\n"},
	{"dots, branch behind ;", Dots, "\tcmp r0, #1; beq points_set; b points_clear\n"},
	{"dots, a macro behind ;", Dots, "\t.macro wait n\n\tmovs r0, #\\n\n\t.endm\n\twait 3; wait 4\n\tnop; wait 5\n"},
	{"dots, a macro with registers behind ;", Dots, "\tsave r4; load r0, r1\n\tsave r5; restore r4\n"},
	{"dots, literal pool", Dots, "\tldr r0, =table; ldr r1, [r0, #4]; bl show\n\t.pool\n"},
	{"dots, commented columns", Dots, "@\tAREA reset, CODE, READONLY\n@\tEXPORT start ; the entry\n@\tDCD 1\n\t.thumb\nstart:\n"},
	{"dots, commented by #", Dots, "#\tAREA reset, CODE ; the entry\n# ; more of that\n\t.thumb\nstart:\n"},
	{"dots, columns in a block comment", Dots, "/*\n; points and signals\n\tAREA x, CODE, READONLY\n\tDCD 0\n*/\n\t.word 0\n"},
	{"dots, macros called like directives", Dots, "#include \"track.h\"\n\t.text\nENTRY(points_set)\n\tmovs r0, #1\n\tbx lr\nEND(points_set)\n"},
	{"dots, macros called like directives, bare", Dots, "\t.syntax unified\n\tFUNCTION points_set\n\tmovs r0, #1\n\tbx lr\n\tENDFUNC points_set\n"},
	{"dots, preprocessor", Dots, "#define WAIT(n) movs r0, n ; \\\n  bl wait ; \\\n  points the signals\n#if 1\n\tnop\n#endif\n"},
	{"dots, a string", Dots, "\t.ascii \"; this is a text\"\n\t.asciz \"; and another one\"\n"},
	{"dots, a character", Dots, "\tmovs r0, #';' @ semicolon\n\tmovs r1, #'@' @ at\n"},
	{"dots, typed so far", Dots, "\t.syn"},
	{"dots, label so far", Dots, "points:"},
	{"dots, @ in a macro", Dots, "\t.macro loop\nl\\@:\tb l\\@\n\t.endm\n"},
	{"dots, ruler", Dots, "@------------------------\n@ table of the signals ; old\n"},
	{"dots, upper case code", Dots, "\t.THUMB\nSTART: LDR R0, =0x40000000 ; STR R1, [R0]\n\tBX LR\n"},
	{"dots, ifdefs", Dots, "\t.ifdef LAMPS\n\t.equ n, 3\n\t.else\n\t.equ n, 4\n\t.endif\n"},
	{"dots, cfi", Dots, "\t.fnstart\n\tpush {r4, lr}; .save {r4, lr}\n\tpop {r4, pc}; .fnend\n"},
	{"dots, assignments", Dots, "LAMP = 3; TRACK = 4\n"},
	{"dots, a note", Dots, "\tnop ; wait\n"},

	{"semicolon", Semicolon, "; signals of the station\n\t.thumb\n\t.global set\nset\tmovs r0, #1 ; green light\n\tbx lr\n"},
	{"semicolon, colons", Semicolon, "; set the points\nset:\n\tmovs r0, #1\t; straight on\n\tbx lr\t\t; and back\n"},
	{"semicolon, rulers", Semicolon, ";------------------\n;------------------\n\t.text\n"},
	{"semicolon, box", Semicolon, ";*****************\n;* points        *\n;*****************\n\t.thumb\n"},
	{"semicolon, trailing alone", Semicolon, "\t.text\n\tmov r0, r1 ; copy the state\n\tadd r0, #1 ; add one to the counter\n"},
	{"semicolon, comments like code", Semicolon, "\t.text\n; add the offset of the table\n\tadds r0, r1 ; add it\n\tb next ; b to the next one\n"},
	{"semicolon, fragment", Semicolon, "; wait for the train\nwait\tsubs r0, #1\n\tbne wait ; still there\n\tbx lr\n"},
	{"semicolon, at in comments", Semicolon, "; mail: box@example.invalid\n; the lamps are @ port 3\n\t.word 1\n"},
	{"semicolon, commented code", Semicolon, "; the old way:\n;\tmov r0, r1\n;\tb loop\n; the new way:\n\tmov r1, r0\n"},
	{"semicolon, typed so far", Semicolon, "; signal box, invented demo\n"},
	{"semicolon, sections of another kind", Semicolon, "\t.sect \".vectors\" ; the vector table\n\t.word start ; where it starts\n"},

	{"columns, formulas in comments", Columns, "        EXPORT  |filter|\n        AREA    ||.text||, CODE, READONLY\n|filter| PROC\n        mov     r4, r1 ;r4 = table[x0]\n        vabs.s8 d2, d0 ;coeff = load(table)\n        add     r8, r8, #1 ;n = n + 1\n        vld1.u8 {d3}, [r2@64], r1 ; b loop\n        ENDP\n"},
	{"semicolon, formulas", Semicolon, "\t.text\nf\tadds r0, r1 ;r0 = table[x]\n\tadds r1, r1 ;n = f(x, y)\n"},
	{"columns, startup", Columns, "; vector table (invented)\nStack_Size      EQU     0x00000400\n                AREA    STACK, NOINIT, READWRITE, ALIGN=3\nStack_Mem       SPACE   Stack_Size\n"},
	{"columns, first line", Columns, "        AREA    |.text|, CODE, READONLY\n"},
	{"columns, first line typed so far", Columns, "        AREA    points, CODE"},
	{"columns, lower case", Columns, "; points\n\tarea points, code, readonly\n\tthumb\nset\tmovs r0, #1\n\tend\n"},
	{"columns, modes", Columns, "\tCODE16\n\tEXPORT set\nset\tMOV r0, #1\n\tBX lr\n\tEND\n"},
	{"columns, header", Columns, "; the lamps of the signal box\nLAMP_RED\tEQU\t0x1\nLAMP_GREEN\tEQU\t0x2\n\tEND\n"},
	{"columns, only constants", Columns, "RED EQU 1\nGREEN EQU 2\n"},
	{"columns, a table", Columns, "table   DCD     1, 2, 3 ; first row\n        DCD     4, 5, 6\n"},
	{"columns, macros", Columns, "        MACRO\n$lab    WAIT    $n\n$lab    MOVS    r0, #$n\n        MEND\n"},
	{"columns, variables", Columns, "        GBLA    lamps\nlamps   SETA    3\n        IF      lamps > 2\n        ENDIF\n"},
	{"columns, weak words alone", Columns, "        THUMB\n        ALIGN\nx       BX      lr\n        END\n"},
	{"columns, colons in comments", Columns, "; note: see the plan\n; a: b\n        AREA    x, DATA, READWRITE\nv       DCD     0   ; value: 0\n"},
	{"columns, dots in comments", Columns, "; .thumb and .word are other dialects\n;.global x\n        AREA    x, CODE, READONLY\n        EXPORT  x\n"},
	{"columns, procs", Columns, "Reset_Handler   PROC\n                EXPORT  Reset_Handler [WEAK]\n                B       .\n                ENDP\n"},
	{"columns, bars", Columns, "|Image$$x| EQU 3\n        IMPORT  ||Lib$$Request$$armlib||\n"},
	{"columns, crlf", Columns, "; lamps\r\n        AREA    x, CODE, READONLY\r\n        THUMB\r\n        END\r\n"},
	{"columns, preprocessor", Columns, "#include \"track.h\"\n        AREA    x, CODE, READONLY\n        END\n"},
}

// TestDetect checks the detection on the invented sources: as they are, with a
// byte missing at the end, and with other line ends.
func TestDetect(t *testing.T) {
	for _, c := range detectCases {
		for _, text := range []string{c.text, strings.ReplaceAll(c.text, "\n", "\r\n"), strings.TrimRight(c.text, "\n"), "\ufeff"[:0] + "\n" + c.text} {
			if got, _ := Detect(text); got != c.want {
				t.Errorf("%s: %v, want %v\n%s", c.name, got, c.want, text)
				break
			}
		}
	}
}

// TestDetectTyped types each source of the dot dialect key by key: none is ever
// taken for another dialect.
func TestDetectTyped(t *testing.T) {
	for _, c := range detectCases {
		if c.want != Dots {
			continue
		}
		for n := range c.text {
			if got, _ := Detect(c.text[:n]); got != Dots {
				t.Errorf("%s, typed up to %q: %v", c.name, c.text[:n], got)
				break
			}
		}
	}
}

// TestDialectStays checks that a dialect, once it is plain, stays through edits,
// and that a file that shows nothing is looked at again.
func TestDialectStays(t *testing.T) {
	f := Parse("\tAREA x, CODE, READONLY\nl\tNOP\n")
	if f.Dialect() != Columns {
		t.Fatal("not columns")
	}
	f = f.Edit(0, len("\tAREA x, CODE, READONLY\n"), "\t.thumb\n")
	if f.Dialect() != Columns {
		t.Error("one edit changed the dialect")
	}
	if f = f.Edit(0, len(f.Text()), "\t.thumb\n@ c\n"); f.Dialect() != Dots {
		t.Error("another text keeps the old dialect")
	}
	f = Parse("")
	for _, k := range "\tAREA x, CODE\n" {
		f = f.Edit(len(f.Text()), len(f.Text()), string(k))
	}
	if f.Dialect() != Columns {
		t.Error("a typed AREA is not seen")
	}
	f = Parse("\tnop\n\tnop\n")
	a := f.As(Semicolon)
	if a.Dialect() != Semicolon || a != f.As(Semicolon) || a.As(Dots) != f || f.As(Dots) != f {
		t.Error("As is not kept")
	}
	g := f.Edit(0, 0, "\tnop\n")
	if b := g.As(Semicolon); b.Text() != g.Text() || b.Line(2) != a.Line(1) {
		t.Error("the other reading does not share the lines")
	}
}

// TestColumnsShape checks how lines of the column dialect are read.
func TestColumnsShape(t *testing.T) {
	for _, c := range []struct {
		line string
		want string
	}{
		{"lab", "label lab"},
		{"lab NOP ; c", "label lab, nop"},
		{" NOP", "nop"},
		{"|a b| DCD 1", "label a b, DCD(1)"},
		{"1 DCW 2", "label 1, DCW(1)"},
		{"01lamp SUBS r0, #1", "label 01, subs(2)"},
		{"x EQU 3", "assign x(1)"},
		{"x * 3, CODE16", "assign x(1)"},
		{"x RN 4", "RN(1)"},
		{"x rn 4", "RN(1)"},
		{"x SETA 2:SHL:4", "SETA(1)"},
		{" EXPORT f [WEAK]", "EXPORT(2)"},
		{" IMPORT |Image$$RO$$Base|", "IMPORT(1)"},
		{" AREA |.text|, CODE, ALIGN=4", "AREA(3)"},
		{" DCB \"a;b\", 0 ; c", "DCB(2)"},
		{"t = \"x\",0", "label t, DCB(2)"},
		{" & 1", "DCD(1)"},
		{" % 4", "SPACE(1)"},
		{" ^ 0", "MAP(1)"},
		{"f # 4", "FIELD(1)"},
		{" [ a = 1", "IF(1)"},
		{" |", "ELSE(0)"},
		{" ]", "ENDIF(0)"},
		{" mov r0, $x", "$(0)"},
		{" IF \"$x\" = \"\"", "IF(0)"},
		{" ldr r0, =|a$$b|", "ldr(2)"},
		{"lab:", "label lab!"},
		{"lab PROC", "label lab, PROC(0)"},
		{" FRAME PUSH {r4}", "FRAME(0)"},
		{" dcd 1", "DCD(1)"},
		{" Dcd 1", "unknown Dcd"},
		{"#include x", ""},
		{"# 12 \"box.S\" 2", ""},
		{"# if X", ""},
		{"; DCD 1", ""},
		{" B %b1", "b(1)"},
		{"IF x = 1", "IF(1)"},
		{"ENDIF", "ENDIF(0)"},
		{"AREA x", "label AREA, unknown x"},
		{" vld1.u8 {d3}, [r2@64], r1", "vld1.u8(2)"},
		{" DCD a, \\", "DCD(1)"},
		{" B {PC}", "b(1)"},
		{" POP {PC}", "pop(1)"},
		{" LDMIA r0!, {r1-r3}", "ldmia(2)"},
		{" ADR r0, {PC}+8", "adr(2)"},
		{" MOV r0, \\", `\(0)`},
		{"lab MOV r0, \\", `\(0)`},
		{" DCD (1 + \\", `\(0)`},
		{" AREA x, \\", `\(0)`},
		{" IF a = 1 :LOR: \\", "IF(1)!"},
		{"regs RLIST {r0-r3, lr}", "RLIST(1)"},
		{"regs RLIST r0", "RLIST(0)!"},
		{" STMFD sp!, regs^", "stmfd(2)"},
		{" EXPORT f [DATA, SIZE=4]", "EXPORT(2)"},
		{" MAP 0, r9", "MAP(2)"},
		{" VLDR s0, =1.5", "vldr(2)"},
		{" BNE %B1routine", "bne(1)"},
		{" ALIGN 4, 2, 0xFF, 1", "ALIGN(4)"},
		{" MOV32 r0, #1", "unknown MOV32"},
		{" ALIAS a, b", "ALIAS(2)"},
		{" MOVW r0, #:LOWER16:x", "movw(2)"},
	} {
		f := ParseAs(c.line, Columns)
		check(t, f, c.line)
		var out []string
		for _, s := range f.Line(0).Stmts {
			w := ""
			switch s.Kind {
			case Label:
				w = "label " + s.Name
			case Instruction:
				w = strings.ToLower(s.Name)
			case Directive:
				w = s.Directive.Name
			case Assign:
				w = "assign " + s.Name
			case Unknown:
				w = "unknown " + s.Name
			case Bad:
				w = "bad"
			}
			if s.Kind == Instruction && len(s.Ops) > 0 || s.Kind == Directive || s.Kind == Assign {
				w += "(" + string(rune('0'+len(s.Ops))) + ")"
			}
			if s.Err != nil {
				w += "!"
			}
			out = append(out, w)
		}
		if got := strings.Join(out, ", "); got != c.want {
			t.Errorf("%q: %s, want %s", c.line, got, c.want)
		}
	}
}

// TestColumnNumbers checks constants and operators of the column dialect; the
// values are from memory of the armasm manual.
func TestColumnNumbers(t *testing.T) {
	for text, want := range map[string]int64{
		"&FF": 255, "0x1F": 31, "2_1010": 10, "8_17": 15, "010": 10, "'A'": 65, "3:SHL:2": 12, "0x80000000:SHR:31": 1, "-1:SHR:28": 15,
		"1:ROR:1": 1 << 31, "7:MOD:4": 3, "6:AND:3": 2, "6:OR:1": 7, "6:EOR:3": 5, ":NOT:0:AND:0xFF": 255, "2+3*4": 14, "(2+3)*4": 20,
		"1+2:SHL:3": 17, "1=1": -1, "1<>1": 0, "3>2:LAND:2>3": 0, "3>2:LOR:2>3": -1, ":LNOT:(1=2)": -1, "{TRUE}": -1, "{FALSE}": 0,
		"-1>1": -1, "5/2": 2, "1<<4": 16,
	} {
		f := ParseAs(" DCD "+text, Columns)
		s := f.Line(0).Stmts[0]
		if len(s.Ops) != 1 || !s.Ops[0].Known || s.Ops[0].Imm != want || s.Err != nil {
			t.Errorf("%s: %+v %v, want %d", text, s.Ops, s.Err, want)
		}
	}
}

func BenchmarkDetect(b *testing.B) {
	text := strings.Repeat("\tadds r0, r1, #1 @ count the wagons\n\tbl set_points\nlabel_1:\n", 2000)
	b.SetBytes(maxDetect)
	for range b.N {
		Detect(text)
	}
}
