package analysis

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// columnFiles are files of the column dialect as vendor toolchains have them, for
// an invented signal box; none has a finding.
var columnFiles = map[string]struct{ cpu, text string }{
	"startup": {"cortex-m0", `;******************** (invented demo data) *************************************
;* Name        : startup_signalbox.s
;* Description : vector table of the signal box
;*               - sets the stack pointer; branches to __main
;*******************************************************************************
; <h> Stack Configuration
;   <o> Stack Size (in Bytes) <0x0-0xFFFFFFFF:8>
; </h>

Stack_Size      EQU     0x00000400

                AREA    STACK, NOINIT, READWRITE, ALIGN=3
Stack_Mem       SPACE   Stack_Size
__initial_sp

Heap_Size       EQU     0x00000200

                AREA    HEAP, NOINIT, READWRITE, ALIGN=3
__heap_base
Heap_Mem        SPACE   Heap_Size
__heap_limit

                PRESERVE8
                THUMB

; Vector Table Mapped to Address 0 at Reset
                AREA    RESET, DATA, READONLY
                EXPORT  __Vectors
                EXPORT  __Vectors_End
                EXPORT  __Vectors_Size

__Vectors       DCD     __initial_sp                   ; Top of Stack
                DCD     Reset_Handler                  ; Reset Handler
                DCD     NMI_Handler                    ; NMI Handler
                DCD     HardFault_Handler              ; Hard Fault Handler
                DCD     0                              ; Reserved
                DCD     Points_IRQHandler              ; "points moved"
                DCD     Track_IRQHandler, \
                        Lamp_IRQHandler
__Vectors_End

__Vectors_Size  EQU     __Vectors_End - __Vectors

                AREA    |.text|, CODE, READONLY

; Reset handler routine
Reset_Handler    PROC
                 EXPORT  Reset_Handler                 [WEAK]
        IMPORT  __main
        IMPORT  SystemInit
                 LDR     R0, =SystemInit
                 BLX     R0
                 LDR     R0, =__main
                 BX      R0
                 ENDP

; Dummy Exception Handlers (infinite loops which can be modified)

NMI_Handler     PROC
                EXPORT  NMI_Handler                    [WEAK]
                B       .
                ENDP
HardFault_Handler\
                PROC
                EXPORT  HardFault_Handler              [WEAK]
                B       .
                ENDP

Default_Handler PROC
                EXPORT  Points_IRQHandler              [WEAK]
                EXPORT  Track_IRQHandler               [WEAK]
                EXPORT  Lamp_IRQHandler                [WEAK]
Points_IRQHandler
Track_IRQHandler
Lamp_IRQHandler
                B       .
                ENDP

                ALIGN

; User Stack and Heap initialization
                 IF      :DEF:__MICROLIB

                 EXPORT  __initial_sp
                 EXPORT  __heap_base
                 EXPORT  __heap_limit

                 ELSE

                 IMPORT  __use_two_region_memory
                 EXPORT  __user_initial_stackheap

__user_initial_stackheap

                 LDR     R0, =  Heap_Mem
                 LDR     R1, =(Stack_Mem + Stack_Size)
                 LDR     R2, = (Heap_Mem +  Heap_Size)
                 LDR     R3, = Stack_Mem
                 BX      LR

                 ALIGN

                 ENDIF

                 END
`},
	"scatter": {"cortex-m3", `        TTL     memory of the signal box (invented)
        IMPORT  ||Image$$ER_RO$$Limit||
        IMPORT  |Image$$RW_IRAM1$$Base|
        IMPORT  |Image$$RW_IRAM1$$Limit|
        IMPORT  |Image$$RW_IRAM1$$ZI$$Base|
        IMPORT  |Image$$RW_IRAM1$$ZI$$Limit|
        AREA    |i.__scatter|, CODE, READONLY, ALIGN=2
        THUMB
        REQUIRE8 {TRUE}
        PRESERVE8 {TRUE}
        EXPORT  init_memory
from    RN      0
to      RN      1
end_    RN      2
init_memory FUNCTION
        FRAME   PUSH {r4, lr}
        PUSH    {r4, lr}
        LDR     from, =||Image$$ER_RO$$Limit||
        LDR     to, =|Image$$RW_IRAM1$$Base|
        LDR     end_, =|Image$$RW_IRAM1$$Limit|
        CMP     from, to
        BEQ     %F1
0       CMP     to, end_
        ITTT    LO
        LDRLO   r3, [from], #4
        STRLO   r3, [to], #4
        BLO     %B0
1       LDR     to, =|Image$$RW_IRAM1$$ZI$$Base|
        LDR     end_, =|Image$$RW_IRAM1$$ZI$$Limit|
        MOVS    r3, #0
2       CMP     to, end_
        IT      LO
        STRLO   r3, [to], #4
        BLO     %B2
        CPSIE   i
        POP     {r4, pc}
        ENDFUNC
        LTORG
        END
`},
	"interwork": {"arm7tdmi", `; start of the older signal box: A32 vectors, T16 program (invented)
Mode_USR        EQU     0x10
Mode_IRQ        EQU     0x12
I_Bit           EQU     0x80            ; when I bit is set, IRQ is disabled
                AREA    Init, CODE, READONLY
                ENTRY
                CODE32
Vectors         LDR     PC, Reset_Addr
                LDR     PC, Undef_Addr
                NOP
                B       {PC}
                LDR     PC, [PC, #-0x0FF0]
Reset_Addr      DCD     Reset_Handler
Undef_Addr      DCD     Undef_Handler
Undef_Handler   B       Undef_Handler
Reset_Handler
                MSR     CPSR_c, #Mode_IRQ:OR:I_Bit
                LDR     SP, =Stack_Top
                MRS     r0, CPSR
                BIC     r0, r0, #0x1F
                LDMIA   r0!, {r1-r3}
                ADR     r0, main + 1
                BX      r0
                CODE16
                EXPORT  main
main            MOV     r0, #:NOT:0 :AND: 0xFF
                LDR     r1, =&FFFF0000
                STR     r0, [r1, #Lamp_Port]
                BL      set_points
                B       main
set_points      PUSH    {lr}
                LDRB    r2, [r1, #0]
                CMP     r2, #'A'
                BNE     %FT10
                ADD     r2, #1
10              POP     {pc}
                LTORG
                AREA    Port, DATA, NOINIT
                ^       0
Lamp_Red        #       4
Lamp_Green      #       4
Lamp_Port       #       4
Port_Size       *       @ - Lamp_Red
                AREA    Stack, DATA, READWRITE
Stack_Bottom    %       256
Stack_Top
                DCB     "top of the stack; nothing here", 0
                =       "quote "" and dollar $$", &0
                END
`},
	"older habits": {"cortex-m4", `; conditions at column one, IT lines left out, names in two bars (invented)
FAST    EQU     1
IF FAST = 1
        EXPORT  |copy_lamps|
ELSE
        EXPORT  |copy_lamps_slowly|
ENDIF
        AREA    ||.text||, CODE, READONLY, ALIGN=2
        THUMB
|copy_lamps| PROC
        stmfd   sp!, {r4 - r6, lr}      ;r4 = lamps[x0]
        cmp     r0, #4                  ;n = count(r0, 1)
        moveq   r1, #0
        addne   r1, r1, #1
        movs    r2, #0                  ; b done
0       adds    r2, r2, #1
        cmp     r2, r0
        blt     %b0
        ldmfd   sp!, {r4 - r6, pc}
        ENDP
END
`},
	"macros": {"cortex-m0", `; macros and variables (invented)
        GBLA    lamps
        GBLS    prefix
        GBLL    debug
lamps   SETA    3
prefix  SETS    "lamp_"
debug   SETL    {TRUE}
        MACRO
$lab    DELAY   $reg, $count=10
$lab    MOVS    $reg, #$count
1       SUBS    $reg, $reg, #1
        BNE     %BT1
        MEND
        MACRO
        TABLE   $name, $n, $text="none"
        LCLA    i
        LCLS    what
i       SETA    0
what    SETS    "$text":CC:"!"
$name._table
        WHILE   i < $n
        IF      i = 2 :LAND: "$text" = "short"
        DCW     0xFFFF
        MEXIT
        ENDIF
        DCW     i * 2
i       SETA    i + 1
        WEND
        DCB     "$what"
        MEND
        AREA    code, CODE, READONLY
        THUMB
x       RN      4
start   PROC
        MOVS    x, #lamps
        DELAY   r0, 5
1       NOP
again   DELAY   r1, |
        BNE     %B1
        LDR     r2, =&12345678
        MOVS    r3, #2_1010
        MOVS    r3, #'a' :AND: 0x5F
        LDRB    r5, [r2, #state]
        ADR     r6, tab
        B       again
$prefix.on
        BX      lr
        ENDP
        ALIGN
tab     = "abc", 0, "d""e"
        TABLE   points, 4
        TABLE   signals, 4, short
        ^ 0
red     # 4
green   # 4
state   # 1
        [ debug :LAND: :DEF:debug
        DCB     :LEN:"$prefix"
        |
        DCB     "off"
        ]
        IF      "$prefix" <> "lamp_"
        INFO    1, "another prefix"
        ELIF    lamps > 4
        ! 1, "too many lamps"
        ELSE
        INFO    0, "as it should be"
        ENDIF
        ASSERT  state = 8
        ALIGN   4, 2
        DCW     1
        LTORG
        END
`},
}

// columnCase is a source of the column dialect and its target.
type columnCase struct{ path, cpu, fpu, text string }

// columnCases are columnFiles and those of testdata/columns, whose first lines name
// the core and perhaps the floating-point unit.
func columnCases(t *testing.T) map[string]columnCase {
	t.Helper()
	all := map[string]columnCase{}
	for name, c := range columnFiles {
		all[name] = columnCase{"box.s", c.cpu, "", c.text}
	}
	paths, err := filepath.Glob("testdata/columns/*.s")
	if err != nil || len(paths) < 9 {
		t.Fatalf("%v: %v", paths, err)
	}
	for _, path := range paths {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		c := columnCase{path: path, text: string(b)}
		for _, l := range strings.SplitN(c.text, "\n", 3)[:2] {
			if s, ok := strings.CutPrefix(l, "; cpu: "); ok {
				c.cpu = s
			} else if s, ok := strings.CutPrefix(l, "; fpu: "); ok {
				c.fpu = s
			}
		}
		all[strings.TrimSuffix(filepath.Base(path), ".s")] = c
	}
	return all
}

// analyze analyses a text for the target of the case.
func (c *columnCase) analyze(t *testing.T, text string) *Result {
	t.Helper()
	dir := filepath.Dir(c.path)
	r, err := Analyze(context.Background(), &Input{Path: c.path, File: syntax.Parse(text), Set: &Settings{CPU: c.cpu, FPU: c.fpu}, Load: func(w assemble.Wanted) (string, *syntax.File, bool) {
		b, err := os.ReadFile(filepath.Join(dir, w.Name))
		return filepath.Join(dir, w.Name), syntax.Parse(string(b)), err == nil
	}, Size: func(w assemble.Wanted) (int64, bool) {
		i, err := os.Stat(filepath.Join(dir, w.Name))
		if err != nil {
			return 0, false
		}
		return i.Size(), true
	}})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func analyzeText(t *testing.T, text string, set *Settings) *Result {
	t.Helper()
	r, err := Analyze(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text), Set: set})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// findings lists what is more than a hint, with line and column.
func findings(r *Result) []string {
	var out []string
	for _, d := range r.Each() {
		if d.Severity == finding.Hint {
			continue
		}
		f := r.in.File
		n := f.LineAt(d.Span.Start)
		out = append(out, fmt.Sprintf("%d:%d %s %s", n+1, d.Span.Start-f.LineStart(n)+1, d.Code, d.Message))
	}
	return out
}

// TestColumnFiles checks that files as vendor toolchains have them are taken for
// what they are, and that nothing is found in them.
func TestColumnFiles(t *testing.T) {
	for name, c := range columnCases(t) {
		for _, text := range []string{c.text, strings.ReplaceAll(c.text, "\n", "\r\n"), lowerDirectives(c.text)} {
			r := c.analyze(t, text)
			if r.in.File.Dialect() != syntax.Columns {
				t.Errorf("%s: taken for %v", name, r.in.File.Dialect())
			}
			for _, f := range findings(r) {
				t.Errorf("%s: %s", name, f)
			}
		}
	}
}

// lowerDirectives writes the directives of a text in lower case.
func lowerDirectives(text string) string {
	var out []string
	for _, l := range strings.Split(text, "\n") {
		code, comment, _ := strings.Cut(l, ";")
		for _, w := range strings.Fields(code) {
			if syntax.ColumnDirective(w) != nil && w == strings.ToUpper(w) && len(w) > 1 {
				code = strings.Replace(code, w, strings.ToLower(w), 1)
				break
			}
		}
		if comment != "" {
			code += ";" + comment
		}
		out = append(out, code)
	}
	return strings.Join(out, "\n")
}

// TestColumnLayout checks where the labels of the macros are, worked out by
// hand.
func TestColumnLayout(t *testing.T) {
	r := analyzeText(t, columnFiles["macros"].text, &Settings{CPU: "cortex-m0"})
	for name, want := range map[string]int64{"start": 0, "again": 0xa, "lamp_on": 0x1e, "tab": 0x20, "points_table": 0x27} {
		s := r.prog.SymbolOf(name)
		if s == nil || s.Value.Kind != program.Address || s.Value.N != want {
			t.Errorf("%s is %+v, want 0x%x", name, s, want)
		}
	}
	r = analyzeText(t, columnFiles["startup"].text, &Settings{CPU: "cortex-m0"})
	if v := r.prog.SymbolOf("__Vectors_Size"); v == nil || v.Value.Kind != program.Number || v.Value.N != 32 {
		t.Errorf("__Vectors_Size is %+v", v)
	}
	r = analyzeText(t, columnFiles["macros"].text, &Settings{CPU: "cortex-m0"})
	if v := r.prog.SymbolOf("state"); v == nil || v.Value.N != 8 {
		t.Errorf("state is %+v", v)
	}
}

// TestColumnErrors plants errors in files without any: each is found where it is,
// and nothing else.
func TestColumnErrors(t *testing.T) {
	all := columnCases(t)
	for _, c := range []struct {
		file, from, to string
		code           string
		at             string // what is marked
	}{
		{"startup", "LDR     R0, =__main", "ADDS    R8, #1", finding.CodeLowRegs, "R8"},
		{"startup", "BX      R0", "BX      R0, R1", finding.CodeNoForm, ""},
		{"startup", "B       .\n", "BQ      .\n", finding.CodeMnemonic, "BQ"},
		{"startup", "SPACE   Stack_Size", "SPACE   Stack_Sice", finding.CodeUndefined, "Stack_Sice"},
		{"startup", "ENDIF", "ENDI", finding.CodeMnemonic, "ENDI"},
		{"startup", "EQU     0x00000400", "EQU     0x0000040G", finding.CodeSyntax, "0x0000040G"},
		{"startup", "DCD     0  ", "DCD     0,", finding.CodeSyntax, ""},
		{"interwork", "MOV     r0, #:NOT:0 :AND: 0xFF", "MOV     r0, #:NOT:0 :AND: 0x1FF", finding.CodeConstRange, "#:NOT:0 :AND: 0x1FF"},
		{"interwork", "STR     r0, [r1, #Lamp_Port]", "STR     r0, [r1, #Lamp_Port+1]", finding.CodeConstAlign, "#Lamp_Port+1"},
		{"interwork", "LDRB    r2, [r1, #0]", "LDRB    r2, [r1, #0", finding.CodeSyntax, "["},
		{"interwork", "BNE     %FT10", "BNE     %FT11", finding.CodeUndefined, "%FT11"},
		{"interwork", "10              POP", "11              POP", finding.CodeUndefined, "%FT10"},
		{"macros", "MOVS    x, #lamps", "MOVS    x, #lamps*100", finding.CodeConstRange, "#lamps*100"},
		{"macros", "DELAY   r0, 5", "DELAY   r0, 5, 6", finding.CodeMacroArg, "DELAY   r0, 5, 6"},
		{"macros", "DELAY   r0, 5", "DELAY   r8, 5", finding.CodeLowRegs, "DELAY   r8, 5"},
		{"macros", "lamps   SETA", "lamp    SETA", finding.CodeUndefined, "lamp"},
		{"macros", "prefix  SETS    \"lamp_\"", "prefix  SETS    4", finding.CodeDirective, "prefix  SETS    4"},
		{"macros", "ASSERT  state = 8", "ASSERT  state = 9", finding.CodeDirective, "ASSERT  state = 9"},
		{"macros", "GBLA    lamps", "LCLA    lamps", finding.CodeDirective, "LCLA    lamps"},
		{"macros", "start   PROC", "start:  PROC", finding.CodeSyntax, ":"},
		{"scatter", "ITTT    LO", "ITTTT   LO", finding.CodeITBlock, ""},

		{"startup-m3", "DCD      Points1_Handler ", "DCD      Points1_Handlr ", finding.CodeUndefined, "Points1_Handlr"},
		{"startup-m3", "Set_Default_Handler  SVC_Handler", "Set_Default_Handlr  SVC_Handler", finding.CodeMnemonic, "Set_Default_Handlr"},
		{"startup-m3", "HEAP, NOINIT, READWRITE", "HEAP, NOINIT, READWRIET", finding.CodeDirective, "READWRIET"},
		{"startup-m3", "IF       Heap_Size != 0", "IF       Heap_Sice != 0", finding.CodeUndefined, "IF       Heap_Sice != 0"},
		{"startup-m3", "SPACE    (28 * 4)", "SPACE    (28 * 4", finding.CodeSyntax, "("},
		{"startup-m3", "HardFault_Handler         [WEAK]", "HardFault_Handler         [WAEK, HIDEN]", finding.CodeDirective, "[WAEK, HIDEN]"},
		{"startup-m3", "LDR      R1, =(Stack_Mem + Stack_Size)", "LDR      R1, =(Stack_Men + Stack_Size)", finding.CodeUndefined, "Stack_Men"},
		{"switch-m4", "stmdb   stack!, callee", "stmdb   stack!, calee", finding.CodeNoForm, "calee"},
		{"switch-m4", "                {r4-r11, \\\n", "                {r4-r16, \\\n", finding.CodeUndefined, "{r4-r16, \\\n                 r14}"},
		{"switch-m4", "mov32   r0, fault_count", "mov32   r0", finding.CodeNoForm, "mov32   r0"},
		{"switch-m4", "mov32   r0, fault_count", "mov32   r0, fault_coumt", finding.CodeUndefined, "mov32   r0, fault_coumt"},
		{"switch-m4", "cbz     r0, %FT1", "cbz     r0, %BT1", finding.CodeUndefined, "%BT1"},
		{"switch-m4", "callee  RLIST   {r4-r11}", "callee  RLIST   {r4-r11", finding.CodeSyntax, ""},
		{"switch-m4", "callee  RLIST   {r4-r11}", "callee  RLIST   r4-r11", finding.CodeSyntax, ""},
		{"switch-m4", "und     #7", "und     #70000", finding.CodeConstRange, "und     #70000"},
		{"switch-m4", "movs    r0, #MAX_PRIORITY", "movs    r0, #MAX_PRIORITY+0x12300", finding.CodeConstRange, "#MAX_PRIORITY+0x12300"},
		{"switch-m4", "msr     basepri, r0", "msr     baspri, r0", finding.CodeNoForm, ""},
		{"port-m0", "SUBS    R0, R0, #32", "SUBS    R0, R0, #320", finding.CodeConstRange, "#320"},
		{"port-m0", "LDRB    R1, [R1, #tk_prio]", "LDRB    R1, [R1, #tk_prio+30]", finding.CodeConstRange, "#tk_prio+30"},
		{"port-m0", "LDR     R1, [R3, #tk_sp]", "LDR     R1, [R3, #tk_prio+2]", finding.CodeConstAlign, "#tk_prio+2"},
		{"port-m0", "STMIA   R0!, {R4-R7}", "STMIA   R0!, {R4-R8}", finding.CodeRegList, ""},
		{"port-m0", "BEQ     %B1first_task", "BEQ     %B1PendSV_Handler", finding.CodeSyntax, "%B1PendSV_Handler"},
		{"port-m0", "1       BX      R3", "        BX      R3", finding.CodeUndefined, "%F1"},
		{"port-m0", "1       ADDS    R0, #32", "1other  ADDS    R0, #32", finding.CodeUndefined, "1other"},
		{"port-m0", "ASSERT  tk_size = 8", "ASSERT  tk_size = 9", finding.CodeDirective, "ASSERT  tk_size = 9"},
		{"port-m0", "ALIGN   4, 1, 0xFF", "ALIGN   5, 1, 0xFF", finding.CodeDirective, "5"},
		{"uart-a32", "STRH    r0, line_speed", "STRH    r0, line_speed+256", finding.CodeConstRange, "line_speed+256"},
		{"uart-a32", "                line_state\n", "                line_state + 4096\n", finding.CodeConstRange, "line_state + 4096"},
		{"uart-a32", "saved   RLIST   {r4-r6, lr}", "saved   RLIST   {r4-r6, lx}", finding.CodeRegList, "{r4-r6, lx}"},
		{"uart-a32", "MAP     0, base", "MAP     0, bass", finding.CodeDirective, "bass"},
		{"uart-a32", "LDR     r0, =SPEED", "LDR     r0, =SPEAD", finding.CodeUndefined, "SPEAD"},
		{"uart-a32", "BNE     %B01line_send", "BNE     %B01line_open", finding.CodeSyntax, "%B01line_open"},
		{"macros-lib", "LampEQ  r4, |, off", "LampXX  r4, |, off", finding.CodeMnemonic, "LampXX  r4, |, off"},
		{"macros-lib", "Lamp    r4, #2, on", "Lamp    r4, #2, on, 3", finding.CodeMacroArg, "Lamp    r4, #2, on, 3"},
		{"macros-lib", "Lamp    r4, #2, on", "Lamp    r4, #2, dim", finding.CodeDirective, "Lamp    r4, #2, dim"},
		{"macros-lib", "calls = \\\n                4", "calls = \\\n                5", finding.CodeDirective, "ASSERT  calls = \\\n                5"},
		{"macros-lib", "ReturnEQ", "Return EQ", finding.CodeMacroArg, "Return EQ"},
		{"vectors-a32", "BIC     r0, r0, #1 :OR: 4", "BIC     r0, r0, #1 :OR: 0x100", finding.CodeConstRange, "#1 :OR: 0x100"},
		{"vectors-a32", "FRAME   ADDRESS", "FRAME   ADRESS", finding.CodeDirective, ""},
		{"vectors-a32", "MSR     CPSR_c, #Mode_FIQ", "MSR     CPSR_q, #Mode_FIQ", finding.CodeNoForm, ""},
		{"filter-m7", "VLDR.F64 wide, one", "VLDR.F64 wide, on", finding.CodeUndefined, "on"},
		{"filter-m7", "POP     {r4-r7, \\", "POP     {r4-r7 \\", finding.CodeSyntax, ""},
		{"filter-m7", "VLDR    sum, =0.0", "VLDR    sum, =0.0x", finding.CodeSyntax, "0.0x"},
		{"attributes", "ATTR    SCOPE", "ATTR    SCOP", finding.CodeDirective, "ATTR    SCOP run"},
		{"attributes", "INCBIN  lamps.bin", "INCBIN  lamp.bin", finding.CodeInclude, "lamp.bin"},
		{"attributes", "EXPORTAS run_end, run_stop", "EXPORTAS run_end", finding.CodeDirective, "EXPORTAS run_end"},
		{"crc-t16", "lsl     r2, #2", "lsl     r2, #32", finding.CodeConstRange, "#32"},
		{"crc-t16", "eor     r2, r4", "eor     r2, r8", finding.CodeLowRegs, "r8"},
		{"crc-t16", "beq     %f9", "beq     %f8", finding.CodeUndefined, "%f8"},
		{"crc-t16", "assert  . - crc_table = 1024", "assert  . - crc_table = 1025", finding.CodeDirective, "assert  . - crc_table = 1025"},
		{"crc-t16", "2_100000000", "2_100000002", finding.CodeSyntax, "2_100000002"},
	} {
		file := all[c.file]
		text := file.text
		if !strings.Contains(text, c.from) {
			t.Fatalf("%q is not in %s", c.from, c.file)
		}
		text = strings.Replace(text, c.from, c.to, 1)
		r := file.analyze(t, text)
		ok := false
		for _, d := range r.Each() {
			if d.Code == c.code && (c.at == "" || text[d.Span.Start:d.Span.End] == c.at) {
				ok = true
			}
		}
		if !ok {
			t.Errorf("%s, %q for %q: %s at %q is not found; found is\n\t%s", c.file, c.to, c.from, c.code, c.at, strings.Join(findings(r), "\n\t"))
		}
	}
}

// TestDialectSettings checks the settings about dialects and meanings.
func TestDialectSettings(t *testing.T) {
	const text = "\t.thumb\nlab\tmovs r0, #1 ; set the lamp\n\tbx lr\n"
	if n := len(findings(analyzeText(t, text, &Settings{Dialect: "semicolon"}))); n != 0 {
		t.Errorf("%d findings with semicolon", n)
	}
	if n := len(findings(analyzeText(t, text, &Settings{Dialect: "dots"}))); n == 0 {
		t.Error("no findings with dots")
	}
	const data = "\t.byte 1\n\t.align 2\na:\t.word 1, 2\nb:\n"
	for _, c := range []struct {
		set  Settings
		a, b int64
	}{
		{Settings{}, 4, 12}, {Settings{AlignUnit: "bytes"}, 2, 10}, {Settings{WordBytes: "2"}, 4, 8}, {Settings{AlignUnit: "bytes", WordBytes: "2"}, 2, 6},
	} {
		r := analyzeText(t, data, &c.set)
		if a, b := r.prog.SymbolOf("a").Value.N, r.prog.SymbolOf("b").Value.N; a != c.a || b != c.b {
			t.Errorf("%+v: a is %d, b is %d", c.set, a, b)
		}
	}
	for _, s := range []Settings{{Dialect: "commas"}, {AlignUnit: "words"}, {WordBytes: "3"}} {
		if s.Resolve() == nil {
			t.Errorf("%+v is taken", s)
		}
	}
}

// TestDialectIncluded checks that an included file is read as the one that
// includes it.
func TestDialectIncluded(t *testing.T) {
	inc := syntax.Parse("\tmovs r0, #1\nback\tbx lr\n")
	for _, text := range []string{"\tAREA x, CODE, READONLY\n\tTHUMB\n\tGET lamps.inc\n\tEND\n", "; lamps of the box\n; more of them\n\t.thumb\n\t.include \"lamps.inc\"\n"} {
		r, err := Analyze(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text), Load: func(w assemble.Wanted) (string, *syntax.File, bool) {
			return w.Name, inc, w.Name == "lamps.inc"
		}})
		if err != nil {
			t.Fatal(err)
		}
		if len(findings(r)) != 0 || r.prog.SymbolOf("back") == nil || r.prog.SymbolOf("back").Value.N != 2 {
			t.Errorf("%q: %q, back %+v", text, findings(r), r.prog.SymbolOf("back"))
		}
	}
}

// TestColumnHostile checks that loops without end end.
func TestColumnHostile(t *testing.T) {
	t.Parallel()
	for _, text := range reftest.Sample([]string{
		"\tAREA x, CODE\n\tWHILE {TRUE}\n\tNOP\n\tWEND\n",
		"\tAREA x, CODE\n\tWHILE {TRUE}\n\tWEND\n",
		"\tAREA x, CODE\n\tMACRO\n\tm\n\tm\n\tm\n\tMEND\n\tm\n",
		"\tAREA x, CODE\n\tGBLS a\na SETS \"$$a\"\n\t$a\n",
		"\tAREA x, CODE\n\tGBLS a\na SETS \"x\"\n\tWHILE {TRUE}\na SETS \"$a$a\"\n\tWEND\n",
		"\tAREA x, CODE\n\tGBLS a\na SETS \"xxxxxxxxxxxx\"\n\tWHILE {TRUE}\na SETS a:CC:a\n\tWEND\n",
		"\tAREA x, CODE\n\tMACRO\n", "\tAREA x, CODE\n\tWHILE 1\n", "\tMACRO\n\tMEND\n\tAREA x, CODE\n",
		"\tAREA x, CODE\n" + strings.Repeat("\tIF 1\n", 1000), "\tAREA x, CODE\na EQU b\nb EQU a\n\tDCD a\n",
		"\tAREA x, CODE\n" + strings.Repeat("\tMOV r0, \\\n", 1000), "\tAREA x, CODE\n\tWHILE \\\n\tWEND\n", "\tAREA x, CODE\n\tMACRO \\\n\tm $a, \\\n\tm 1\n\tMEND\n\tm 2\n",
		"\tAREA x, CODE\n\tMAP 0, r1\na FIELD 4\nb EQU a + b\nc EQU c\n\tLDR r0, b\n\tLDR r0, c\n\tADR r0, a - b\n\tLDR r0, b - a\n",
		"\tAREA x, CODE\nl RLIST {l}\nm RLIST {r0-l}\n\tPUSH l\n\tPUSH m\n\tMOV32\n\tMOV32 r0, \n\tMOV32 ,\n\tUND ,\n\tADRL\n", "\tMACRO\n\tm$\n\tMEND\n\tMACRO\n\tn$c\n\tn$c.$c\n\tMEND\n\tAREA x, CODE\n\tnx\n",
		"\tAREA x, CODE\n\tSPACE 0x7fffffff\n\tSPACE 0x7fffffff\n\tALIGN 0x80000000\n",
	}, 3) {
		analyzeText(t, text, nil)
	}
}

// TestColumnFeatures checks outline, hover and definition in the column dialect.
func TestColumnFeatures(t *testing.T) {
	text := columnFiles["macros"].text
	r := analyzeText(t, text, &Settings{CPU: "cortex-m0"})
	var names []string
	for _, s := range r.Symbols() {
		names = append(names, s.Name)
		for _, below := range s.Children {
			names = append(names, below.Name)
		}
	}
	sort.Strings(names)
	for _, n := range []string{"DELAY", "TABLE", "again", "code", "lamp_on", "start", "state", "x"} {
		if i := sort.SearchStrings(names, n); i == len(names) || names[i] != n {
			t.Errorf("%s is not in the outline: %v", n, names)
		}
	}
	for _, c := range []struct{ at, want string }{
		{"DELAY   r0, 5", "MOVS"}, {"LTORG", "literal pool"}, {"again\n", "again"}, {"state\n", ""}, {"BX      lr", "BX"}, {"TTL", ""},
	} {
		i := strings.Index(text, c.at)
		if i < 0 || c.want == "" {
			continue
		}
		if h, ok := r.Hover(i); !ok || !strings.Contains(strings.ToLower(h.Markdown), strings.ToLower(c.want)) {
			t.Errorf("hover of %q is %q", c.at, h.Markdown)
		}
	}
	if d := r.Definition(strings.Index(text, "%B1\n        LDR") + 1); len(d) != 1 || text[d[0].Span.Start:d[0].Span.End] != "1" {
		t.Errorf("definition of %%B1: %v", d)
	}
	if d := r.Definition(strings.Index(text, "B       again") + 8); len(d) != 1 || text[d[0].Span.Start:d[0].Span.End] != "DELAY   r1, |" { // whose label it is
		t.Errorf("definition of again: %v", d)
	}
}

// TestColumnNames checks hover, definition and references of what is for
// registers, and in statements that go on over lines.
func TestColumnNames(t *testing.T) {
	all := columnCases(t)
	for _, c := range []struct {
		file, text string // with a '~' where the caret is
		hover      string
		definition string // the line's text that it is in
		references int
	}{
		{"switch-m4", "stmdb   stack!, cal~lee", "{r4-r11}", "callee  RLIST   {r4-r11}", 3},
		{"switch-m4", "ld~mia   r0!, \\\n                {r4-r11, \\", "LDM", "", 0},
		{"uart-a32", "        STRH    r0, line_sp~eed", "[r9, #8]", "line_speed  FIELD   2", 5},
		{"uart-a32", "\\\n                line_st~ate\n", "[r9, #4]", "line_state  FIELD   4", 3},
		{"uart-a32", "STMFD   sp!, \\\n                sa~ved", "{r4-r6, lr}", "saved   RLIST   {r4-r6, lr}", 3},
		{"uart-a32", "line_send, \\\n                line_wh~ere, \\", "A32 code", "line_where", 3},
		{"vectors-a32", "MCR     sys~tem, 0, r0", "p15", "system  CP      15", 2},
		{"vectors-a32", "r0, ca~che, c7, 0", "c7", "cache   CN      7", 2},
		{"filter-m7", "sum, \\\n                val~ue", "s1", "value   SN      1", 3},
		{"macros-lib", "Lam~p    r4, #2, on", "Lamp", "$label  Lamp$cond $port, \\", 5},
		{"macros-lib", "Lamp~EQ", "LDREQ", "$label  Lamp$cond $port, \\", 5},
		{"port-m0", "BEQ     %B~1first_task", "", "1       ADDS    R0, #32", 3},
	} {
		file := all[c.file]
		before, behind, _ := strings.Cut(c.text, "~")
		at := strings.Index(file.text, before+behind)
		if at < 0 {
			t.Errorf("%q is not in %s", before+behind, c.file)
			continue
		}
		at += len(before)
		r := file.analyze(t, file.text)
		h, _ := r.Hover(at)
		if !strings.Contains(h.Markdown, c.hover) {
			t.Errorf("hover of %q is %q", c.text, h.Markdown)
		}
		if h.Markdown != "" && !(h.Span.Start <= at && at <= h.Span.End) {
			t.Errorf("hover of %q is at %q", c.text, file.text[h.Span.Start:h.Span.End])
		}
		if n := len(r.References(at)); n != c.references {
			t.Errorf("%d references of %q: %+v", n, c.text, r.References(at))
		}
		d := r.Definition(at)
		if c.definition == "" {
			continue
		}
		if len(d) != 1 {
			t.Errorf("definition of %q: %v", c.text, d)
			continue
		}
		f := r.in.File
		if l := f.Line(f.LineAt(d[0].Span.Start)); !strings.HasPrefix(strings.TrimSpace(l.Text), c.definition) {
			t.Errorf("definition of %q is in %q", c.text, l.Text)
		}
	}
}

// TestColumnsPreprocessed runs the preprocessor over a source of the column
// dialect: the words of columns, and apostrophes in comments, are no matter of
// its own.
func TestColumnsPreprocessed(t *testing.T) {
	text := `; the lamps of the signal box, through the preprocessor
#define LAMPS 3
#define from r1
#ifdef OLD
        AREA    old, CODE, READONLY
#else
        AREA    new, CODE, READONLY
#endif
        THUMB
        EXPORT  set
set     MOVS    r0, #LAMPS      ; it's on
        ADDS    r0, from, #1    ; don't
        BX      lr
t       DCD     set, LAMPS
        ^       0
red     #       4
        END
`
	r, err := Analyze(context.Background(), &Input{Path: "box.S", File: syntax.Parse(text), Set: &Settings{CPU: "cortex-m0"}})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range findings(r) {
		t.Error(f)
	}
	if s := r.prog.SymbolOf("t"); s == nil || s.Value.N != 8 || r.prog.Sections[s.Value.Section].Name != "new" {
		t.Errorf("t is %+v", s)
	}
	if s := r.prog.SymbolOf("red"); s == nil || s.Value.Kind != program.Number {
		t.Errorf("red is %+v", s)
	}
}
