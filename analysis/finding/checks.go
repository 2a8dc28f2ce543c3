package finding

import "strings"

// The codes of the checks. They are part of the command line's output and of
// the documentation: a code never changes its meaning.
const (
	CodeConstRange    = "constant-range"
	CodeConstAlign    = "constant-step"
	CodeConstNegative = "constant-negative"
	CodeLowRegs       = "low-registers"
	CodeNoForm        = "no-such-form"
	CodeFlagsForm     = "flags-form"
	CodeLitBehind     = "literal-behind"
	CodeLitReach      = "literal-reach"
	CodeLitAlign      = "literal-alignment"
	CodeBranchReach   = "branch-reach"
	CodeBranchOdd     = "branch-odd"
	CodeRegList       = "register-list"
	CodeBaseInList    = "base-in-list"
	CodeNotOnArch     = "not-on-architecture"
	CodeMnemonic      = "unknown-mnemonic"
	CodeTarget        = "target-guessed"
	CodeUnknownDir    = "unknown-directive"
	CodeDirective     = "directive-argument"
	CodeInclude       = "include-missing"
	CodeUndefined     = "undefined-symbol"
	CodeExternal      = "external-symbol"
	CodeDuplicate     = "duplicate-symbol"
	CodeDataRange     = "data-range"
	CodeDataAlign     = "data-alignment"
	CodeCodeAlign     = "code-alignment"
	CodeModeMix       = "mode-mismatch"
	CodeStateBit      = "state-bit"
	CodePoolPath      = "pool-in-path"
	CodeITBlock       = "it-block"
	CodeUnpredictable = "unpredictable"
	CodeSyntax        = "syntax"
	CodeMacroDef      = "macro-definition"
	CodeMacroArg      = "macro-argument"
	CodeMacroDepth    = "macro-depth"
	CodeMacroSize     = "macro-size"
	CodePreprocessor  = "preprocessor"
	CodeBudget        = "section-budget"
	CodeTwice         = "global-twice"
	CodeNowhere       = "defined-nowhere"
	CodeAcross        = "state-across-files"
	CodeAllow         = "allow-comment"

	CodeMisaligned     = "misaligned-access"
	CodeReturnLost     = "return-address-lost"
	CodeStackBalance   = "stack-balance"
	CodeCompareUnused  = "compare-unused"
	CodeFlagsOfTwo     = "flags-of-two-lines"
	CodeConditionKnown = "condition-known"
	CodeNotRestored    = "register-not-restored"
	CodeChangedByCall  = "changed-by-call"
	CodeValueUnused    = "value-unused"
	CodeUnreached      = "never-reached"
	CodeRunsOut        = "runs-out-of-code"
	CodeStateKept      = "state-not-changed"
	CodeReturnMade     = "return-address-made"
	CodeFlagsUnset     = "flags-unset"
	CodeReadUnset      = "read-before-set"
	CodeStackAlign     = "stack-alignment"
	CodeReadOnly       = "store-read-only"
	CodeConditionIdle  = "condition-without-effect"
	CodeEndless        = "loop-without-end"
)

// Check describes one registered check: the only place where it is described.
type Check struct {
	Code        string
	Severity    Severity
	Title       string
	Explanation string   // one paragraph
	Bad, Good   string   // minimal sources: test data and documentation
	Rewrites    []string // names of the rewrites that it offers, best first
}

// Several says whether a check is about several sources: its examples are parted by lines
// that name files, as Parts gives them.
func (c *Check) Several() bool { return strings.HasPrefix(c.Bad, filePart) }

const filePart = "@ file "

// Parts are the sources of an example, by the names of their files and in their order.
func Parts(example string) (names, texts []string) {
	for _, part := range strings.Split(example, filePart)[1:] {
		name, text, _ := strings.Cut(part, "\n")
		names, texts = append(names, name), append(texts, text)
	}
	return names, texts
}

const UnifiedThumb = ".syntax unified\n.thumb\n"

var Registry = []Check{
	{CodeConstRange, Error, "Constant out of range",
		"A 16-bit encoding has few bits for its constant: 8 for a move or compare, 3 for an add or subtract with three operands, 8 with two, 5 for a shift or an offset (counted in units of the access), 7 or 8 for words on the stack. A32 holds 8 bits rotated by an even amount, T32 a byte rotated or repeated; their offsets have 8 or 12 bits. Build other constants in two instructions, or load them from the literal pool.",
		UnifiedThumb + "movs r0, #300\n", UnifiedThumb + "ldr r0, =300\nbx lr\n",
		[]string{"round-stack", "move-invert", "move-negate", "move-shift", "move-then-add", "move-add", "move-halves", "mask-field", "extend-low", "two-adds", "two-shifts", "offset-register", "address-first", "step-base", "extend-after", "literal-load", "constant-register", "shift-first", "pool-address", "stack-detour", "drop-width"}},
	{CodeConstAlign, Error, "Constant that is not a multiple of its unit",
		"Offsets of words and halfwords, and amounts on the stack, are held in units of 4 or 2 bytes. Other values have no encoding.",
		UnifiedThumb + "ldr r0, [r1, #6]\n", UnifiedThumb + "ldr r0, [r1, #8]\n",
		[]string{"round-stack", "move-then-add", "offset-register", "address-first", "step-base", "extend-after", "constant-register", "drop-width"}},
	{CodeConstNegative, Error, "Negative constant",
		"Constants of 16-bit encodings have no sign. A negative one is made from a positive one: by NEG (RSBS #0) or MVN after a move, or from the literal pool. An add of a negative constant is a subtraction, which assemblers do by themselves.",
		UnifiedThumb + "movs r0, #-5\n", UnifiedThumb + "movs r0, #5\nrsbs r0, r0, #0\n",
		[]string{"round-stack", "move-negate", "move-invert", "move-shift", "compare-negative", "two-adds", "offset-register", "address-first", "step-base", "literal-load", "constant-register", "drop-width"}},
	{CodeLowRegs, Error, "Operation takes only r0–r7",
		"Nearly all 16-bit encodings have three bits for a register, which is enough for r0 to r7. Only MOV, ADD, CMP and BX (BLX) take the high registers; there is no subtract. Copy a value from a high register to a low one first.",
		UnifiedThumb + "subs r8, r8, #1\n", UnifiedThumb + "mov r0, r8\nsubs r0, r0, #1\nmov r8, r0\n",
		[]string{"round-stack", "stack-word", "via-low", "compare-branch", "compute-aside", "two-shifts", "move-then-add", "constant-register", "address-first", "offset-register", "extend-after", "literal-load", "jump-through", "stack-detour", "drop-width"}},
	{CodeNoForm, Error, "No such form in this mode",
		"The instruction exists, but not with these operands: MVN and the other bitwise operations take registers only, signed loads have a register offset only, most operations write their result to the first source, and only load and store multiple change their base register. A second instruction usually helps.",
		UnifiedThumb + "mvns r0, #5\n", UnifiedThumb + "movs r0, #5\nmvns r0, r0\n",
		[]string{"add-mode", "missing-mark", "operand-again", "round-stack", "stack-word", "compare-negative", "multiply-shift", "constant-register", "extend-low", "extend-after", "offset-register", "address-first", "two-operand", "step-base", "skip-branch", "move-then-add", "literal-load", "older-sequence", "compare-branch", "shift-first", "via-low", "compute-aside", "stack-detour", "drop-width", "test-equal", "call-through", "near-name", "address-load"}},
	{CodeFlagsForm, Error, "Flags set or kept, where only the other form exists",
		"Most 16-bit operations on low registers set the flags. The unified syntax says so with an s (adds, movs, lsls); the divided, older syntax has no such letter. The spelling used here asks for an encoding that does not exist.",
		UnifiedThumb + "add r0, r1, #1\n", UnifiedThumb + "adds r0, r1, #1\n",
		[]string{"add-unified", "round-stack", "flag-spelling", "move-then-add", "two-adds", "constant-register", "drop-width"}},
	{CodeLitBehind, Error, "Literal before PC",
		"A load from a label and ADR add an unsigned offset to PC: in 16-bit code they reach only what comes after them. For a word that comes before, use a copy further on, or load its address from the literal pool.",
		UnifiedThumb + ".align 2\ntable: .word 1\nldr r0, table\n", UnifiedThumb + "ldr r0, table\nbx lr\n.align 2\ntable: .word 1\n",
		[]string{"pool-copy", "pool-address", "drop-width"}},
	{CodeLitReach, Error, "Literal or address out of reach",
		"A 16-bit load from PC or ADR reaches 1020 bytes forward. Place a literal pool nearer (.ltorg where execution never runs into it), or load the address from the pool.",
		UnifiedThumb + "ldr r0, =0x12345678\nbx lr\n.space 1100\n", UnifiedThumb + "ldr r0, =0x12345678\nbx lr\n.ltorg\n.space 1100\n",
		[]string{"insert-pool", "pool-address", "pool-copy", "drop-width"}},
	{CodeLitAlign, Error, "Literal or address not word-aligned",
		"The offset from PC counts in words, from PC rounded down to a word. A label that is not at a word boundary cannot be loaded from or addressed.",
		UnifiedThumb + "ldr r0, w\nbx lr\nnop\nw: .hword 1, 2\n", UnifiedThumb + "ldr r0, w\nbx lr\n.align 2\nw: .hword 1, 2\n",
		[]string{"mark-function", "align", "pool-address", "drop-width"}},
	{CodeBranchReach, Error, "Branch out of reach",
		"A conditional branch reaches 256 bytes back and 254 ahead of PC (which is 4 ahead of the branch), an unconditional one 2048 and 2046, BL 4 MB (16 MB from ARMv6T2 and on ARMv6-M). To go further, branch on the opposite condition around an unconditional branch.",
		UnifiedThumb + "beq far\n.space 300\nfar: nop\n", UnifiedThumb + "bne 1f\nb far\n1: .space 300\nfar: nop\n",
		[]string{"invert-branch", "compare-branch", "far-call", "drop-width"}},
	{CodeBranchOdd, Warning, "Branch to an odd address",
		"A branch's distance counts in halfwords, so bit 0 of the target is lost. Only the register of BX and BLX holds the bit that keeps the core in T16 state.",
		UnifiedThumb + "b next+1\nnext: nop\n", UnifiedThumb + "b next\nnext: nop\n",
		[]string{"even-target"}},
	{CodeRegList, Error, "Register list not allowed",
		"PUSH and POP take r0 to r7, and LR to push or PC to pop; the other multiple loads and stores take only r0 to r7. Copy high registers through low ones.",
		UnifiedThumb + "push {r0, r8}\n", UnifiedThumb + "push {r0, lr}\n",
		[]string{"older-sequence", "list-high", "drop-width"}},
	{CodeBaseInList, Warning, "Base register in the list",
		"STM with its base register in the list stores an unknown value for it, unless it is the lowest register. LDM with its base in the list loads it and does not write the base back.",
		UnifiedThumb + "stmia r1!, {r0, r1}\n", UnifiedThumb + "stmia r0!, {r0, r1}\n", nil},
	{CodeNotOnArch, Error, "Not on this architecture",
		"The instruction or instruction set came with a later architecture, or belongs to another profile, than the target: the one set by .cpu or .arch, by the settings, or the default, armv4t.",
		".arch armv4t\n" + UnifiedThumb + "rev r0, r1\n", ".arch armv6\n" + UnifiedThumb + "rev r0, r1\n",
		[]string{"add-mode", "older-sequence", "compare-branch", "move-shift", "move-add", "literal-load", "call-through", "drop-width"}},
	{CodeTarget, Hint, "Target guessed from the source",
		"Neither a directive nor a setting says what the target is. The source is taken for what build files near it say; if they say nothing, or the source is evidently of another target, for the smallest architecture that has most of its instructions. Say what it is by .cpu or .arch, or by the setting cpu or arch. A source that is evidently of another architecture, such as AArch64 or RISC-V, is left alone. The setting guess turns all of this off.",
		UnifiedThumb + "rev r0, r1\nrev16 r2, r3\n", ".arch armv6\n" + UnifiedThumb + "rev r0, r1\nrev16 r2, r3\n", []string{"target-directive"}},
	{CodeMnemonic, Error, "Unknown mnemonic",
		"No known instruction set has this name, and no macro above defines it.",
		UnifiedThumb + "mvoe r0, r1\n", UnifiedThumb + "movs r0, r1\n", []string{"known-name", "add-colon", "near-name"}},
	{CodeUnknownDir, Error, "Unknown directive",
		"No assembler directive has this name, and no macro above defines it.",
		".thmub\n", ".thumb\n", []string{"near-name"}},
	{CodeDirective, Error, "Directive's argument",
		"A directive has an argument that it cannot use, or is in the wrong place.",
		".balign 3\n", ".balign 4\n", nil},
	{CodeInclude, Error, "File to include not found",
		"The file named by .include is neither in the folder of the including file nor in a folder of the setting include, or it includes itself.",
		".include \"no-such-file.inc\"\n", ".equ X, 1\n", nil},
	{CodeUndefined, Error, "Symbol not defined where its value is needed",
		"The assembler must know this value itself: a constant in an instruction, the size of a space, a literal in the same file. The linker cannot supply it.",
		UnifiedThumb + "movs r0, #LIMIT\n", UnifiedThumb + ".equ LIMIT, 9\nmovs r0, #LIMIT\n", []string{"near-name", "address-load", "pool-address"}},
	{CodeExternal, Hint, "Symbol from another file",
		"The symbol is not defined in this file and not declared by .extern. The linker must supply it; a misspelt name shows up only then.",
		UnifiedThumb + "bl elsewhere\n", UnifiedThumb + ".extern elsewhere\nbl elsewhere\n", []string{"near-name"}},
	{CodeDuplicate, Error, "Symbol defined twice",
		"A label may be defined once in a file, and .equiv gives a value once. Numeric labels (1:, used as 1f and 1b) may repeat.",
		"x: .word 1\nx: .word 2\n", "x: .word 1\ny: .word 2\n", nil},
	{CodeDataRange, Error, "Value does not fit into the data",
		"The value has more bits than the directive's unit. If it is known at this line, assemblers keep the low bits and warn; if it depends on lines below, that is an error.",
		".byte end-start\nstart: .space 300\nend:\n", ".hword end-start\nstart: .space 300\nend:\n", nil},
	{CodeDataAlign, Warning, "Misaligned data",
		"A word should be at a multiple of 4, a halfword at a multiple of 2. From other addresses ARMv4T to ARMv5 cores silently load rotated or wrong values, and ARMv6-M cores fault.",
		".byte 1\ntable: .word 2\n", ".byte 1\n.align 2\ntable: .word 2\n", []string{"align"}},
	{CodeCodeAlign, Warning, "Misaligned code",
		"T16 instructions must be at even addresses, A32 instructions at multiples of 4. Branches cannot reach code after an odd number of data bytes.",
		UnifiedThumb + ".byte 1\nnop\n", UnifiedThumb + ".byte 1\n.align 1\nnop\n", []string{"align"}},
	{CodeModeMix, Warning, "Mode of the code and of the branch's target differ",
		"A plain branch keeps the core in its state, and so does running on to the next line; only BX, BLX and loads of PC change it. Code assembled for the other state is then executed as garbage.",
		".syntax unified\n.arm\nb t\n.thumb\nt: nop\n", ".syntax unified\n.arm\nadr r0, t+1\nbx r0\n.thumb\nt: nop\n", []string{"call-exchange", "mark-function"}},
	{CodeStateBit, Warning, "Bit 0 of a branch-exchange target",
		"BX and BLX through a register take the new state from bit 0: set for T16, clear for A32. The address of a T16 label has it set only where the label is marked as a function (.thumb_func, or .type with %function) and a linker or pool word supplies the address; otherwise add 1. The same holds for the words of a vector table of the M profile, and of a table from which a branch takes its target.",
		UnifiedThumb + "ldr r0, =t\nbx r0\nt: bx lr\n", UnifiedThumb + "ldr r0, =t+1\nbx r0\nt: bx lr\n",
		[]string{"mark-function", "set-state-bit", "clear-state-bit"}},
	{CodePoolPath, Warning, "Execution runs into a literal pool",
		"The pool's words would be executed as instructions. Place the pool after an instruction that never continues: a branch or a return.",
		UnifiedThumb + "ldr r0, =0x12345678\n.ltorg\nbx lr\n", UnifiedThumb + "ldr r0, =0x12345678\nbx lr\n.ltorg\n",
		[]string{"branch-over-pool"}},
	{CodeITBlock, Error, "Condition and IT block",
		"In Thumb code an IT line makes the next one to four instructions conditional. Each of them must have the condition of its place: that of the IT line for a T, the opposite for an E. In T32 every conditional instruction but a branch must be in such a block, an instruction that changes PC must be its last one, and IT itself, CBZ and 16-bit instructions that set the flags by an S are not allowed in it. In A32 code an IT line generates nothing, but is checked. If your assembler inserts IT lines by itself, set implicitIT: then a conditional line outside of blocks gets one.",
		".arch armv7-a\n" + UnifiedThumb + "cmp r0, #0\nmoveq r0, r1\n", ".arch armv7-a\n" + UnifiedThumb + "cmp r0, #0\nit eq\nmoveq r0, r1\n", []string{"add-unified", "it-insert", "skip-branch", "it-condition", "it-close", "it-last"}},
	{CodeUnpredictable, Warning, "Deprecated or unpredictable operands",
		"The operands have an encoding, but the architecture manual calls its effect unpredictable, or deprecates it.",
		UnifiedThumb + "add pc, r0\n", UnifiedThumb + "bx r0\n", nil},
	{CodeSyntax, Error, "Cannot be read",
		"The line is not valid assembly: a bracket is missing, an operand cannot be read, or text follows the end.",
		UnifiedThumb + "ldr r0, [r1\n", UnifiedThumb + "ldr r0, [r1]\n", []string{"comment-mark", "missing-mark", "add-colon"}},
	{CodeMacroDef, Error, "Definition of a macro or repetition",
		"A macro starts with .macro, its name and its parameters, and ends at .endm; .rept, .irp and .irpc end at .endr. To define a macro again, remove it first with .purgem. Upper and lower case are the same in a macro's name.",
		".macro point\n.endm\n.macro POINT\n.endm\n", ".macro point\n.endm\n.purgem point\n.macro POINT\n.endm\n", nil},
	{CodeMacroArg, Error, "Argument of a macro",
		"A call gives values by position, then by name. Arguments end at a comma, and at a blank between two names or numbers; brackets keep blanks together, double quotes blanks and commas. A parameter with :req needs a value, one with :vararg takes all that is left.",
		".macro signal aspect, number\n.byte \\aspect, \\number\n.endm\nsignal 1, 2, 3\n", ".macro signal aspect, number\n.byte \\aspect, \\number\n.endm\nsignal 1, number=2\n", nil},
	{CodeMacroDepth, Error, "Macros nested too deep",
		"A macro that calls itself needs a condition that ends the recursion. Expansions may be nested 101 deep, as in assemblers.",
		".macro lamps n\n.byte \\n\nlamps \\n-1\n.endm\nlamps 3\n", ".macro lamps n\n.byte \\n\n.if \\n-1\nlamps \\n-1\n.endif\n.endm\nlamps 3\n", nil},
	{CodeMacroSize, Warning, "Macros, repetitions or program too large",
		"Macros and repetitions of one program are expanded up to 400,000 statements, and up to the work of a million lines, of which those count as well that conditions leave out, and long ones as several; one expansion may have 16 MB of text. What comes after that counts as code of unknown size. Use .space or .fill in place of a long .rept of data. A program as a whole may have 2.5 million statements, and its text ten million lines, statements and operands; nothing is said about what comes after that. Where the sizes of lines depend on each other in more than ten million steps, distances are not checked. No more than 20,000 findings are listed, of which an editor is sent 1,000 a file.",
		".rept 600000\n.byte 1\n.byte 2\n.endr\n", ".fill 600000, 2, 0x0201\n", nil},
	{CodePreprocessor, Error, "Preprocessor error",
		"Sources with a name in .S go through the C preprocessor before the assembler sees them. Its errors are conditions without an end, expressions that cannot be computed, macros with too few or too many arguments, and #error. A name that no #define defines is 0 in #if, which is not an error.",
		"#if POINTS > 4 &&\n.byte 1\n#endif\n", "#if POINTS > 4 && SIGNALS\n.byte 1\n#endif\n", nil},
	{CodeBudget, Warning, "Section over its budget",
		"The setting budget says how many bytes a section may take in one source, as in {\".text\": 4} for the examples here: where a source becomes too large for the memory that it is meant for, that shows at the line where it happens, not when the program is linked. Literal pools and padding count. Where a compilation database tells which sources become one program, what they take together is held against the budget as well, and reported in the source with most of it.",
		UnifiedThumb + "movs r0, #1\nmovs r1, #2\nbx lr\n", UnifiedThumb + "movs r0, #1\nbx lr\n", nil},
	{CodeTwice, Warning, "Global name in two files of one program",
		"A linker takes one definition of a global name and refuses a second one. Reported where both files surely are of one program: a build's compilation database says so, or, in a workspace with nothing but assembly, some file cannot be linked without either, as it wants names that only they have; not where one seems to be used in place of the other, as half of their names are the same. Make one of them weak or local, or give it another name. Files of different programs may have the same names.",
		filePart + "signal.s\n.arm\n.global set_signal, lamp\nset_signal:\nb set_lamp\nlamp: bx lr\n" + filePart + "lamp.s\n.arm\n.global set_lamp, lamp\nset_lamp: bx lr\nlamp: bx lr\n",
		filePart + "signal.s\n.arm\n.global set_signal\nset_signal:\nb set_lamp\nlamp: bx lr\n" + filePart + "lamp.s\n.arm\n.global set_lamp, lamp\nset_lamp: bx lr\nlamp: bx lr\n", nil},
	{CodeNowhere, Hint, "Name that no file of the workspace defines",
		"The name is to come from another file, and no source of the workspace defines it. It is only a hint, as a library may have it, and it is left out where something else could define names: sources of other languages, libraries, objects and scripts of the linker in the workspace, more sources than are looked at; nor is there one in a file that has no name in common with any other. Names that begin with an underscore and those of the C library are left out.",
		filePart + "signal.s\n.arm\n.global set_signal\nset_signal: bl set_lamp\nb set_lmap\n" + filePart + "lamp.s\n.arm\n.global set_lamp\nset_lamp: bx lr\n",
		filePart + "signal.s\n.arm\n.global set_signal\nset_signal: bl set_lamp\nb set_lamp\n" + filePart + "lamp.s\n.arm\n.global set_lamp\nset_lamp: bx lr\n", nil},
	{CodeAcross, Warning, "Branch to code of another state in another file",
		"B and BL keep the core in its state, and BLX with a label changes it. Where the name is marked as a function (.type with %function, or .thumb_func) a linker makes BL, BLX or a veneer of the branch, whatever the state of the code is; a branch of 16 bits has no room for that, and of a plain label it does not know what is there. The code is then executed in the wrong state.",
		filePart + "signal.s\n.arm\n.global set_signal\nset_signal: bl set_lamp\n" + filePart + "lamp.s\n.syntax unified\n.thumb\n.global set_lamp\nset_lamp: bx lr\n",
		filePart + "signal.s\n.arm\n.global set_signal\nset_signal: bl set_lamp\n" + filePart + "lamp.s\n.syntax unified\n.thumb\n.global set_lamp\n.thumb_func\nset_lamp: bx lr\n", nil},
	{CodeAllow, Information, "Comment that allows nothing",
		"A comment with \"narrowgauge: allow\" and the codes of checks, with commas, takes their findings out: in its line, or, on a line of its own, in the next line of code; with \"from here\" up to a comment with the same codes and \"until here\"; with \"in this file\" in all of it. A reason may follow after \" -- \". Where there is no such finding, the comment is no longer true: remove it. What the assembler refuses is an error, and stays one.",
		UnifiedThumb + "nop @ narrowgauge: allow code-alignment\n", UnifiedThumb + ".byte 1\nnop @ narrowgauge: allow code-alignment -- never reached\n", nil},
	{CodeMisaligned, Warning, "Access at a misaligned address",
		"The address is known here and is not a multiple of what the access needs. Cores of ARMv6-M fault on every misaligned access; those of ARMv7-M and ARMv8-M, and ARMv6 and later ones of the other profiles, on LDM, STM, LDRD, STRD and exclusive accesses, while single words and halfwords may be misaligned. Cores up to ARMv5 load the word that holds the address, rotated so that the byte at the address comes lowest, store to the word that holds it, and do what nobody can predict with halfwords.",
		".arch armv6-m\n" + UnifiedThumb + "ldr r0, =0x40020001\nldr r1, [r0]\nbx lr\n", ".arch armv6-m\n" + UnifiedThumb + "ldr r0, =0x40020001\nldrb r1, [r0]\nbx lr\n", []string{"align-datum"}},
	{CodeReturnLost, Warning, "Return address lost in a call",
		"BL and BLX put their own return address into lr, so a routine that calls another one has to save lr first, and return by what it has saved: push {lr} at its start, pop {pc} at its end. Else its return goes to the place after its own call, again and again.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: movs r0, #1\nbl set\nbx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: push {r4, lr}\nmovs r0, #1\nbl set\npop {r4, pc}\n", []string{"save-link"}},
	{CodeStackBalance, Warning, "Stack that does not balance",
		"A routine has to leave the stack pointer where it was when the routine was called (AAPCS32, 6.1.1). Here something that has been pushed is not popped on this way, or room that SUB has made is not given back; a pop of pc then takes another word for the return address. Where two ways come together, both have to have as much on the stack.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: push {r4}\nmovs r4, #1\nstrb r4, [r0]\nbx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: push {r4}\nmovs r4, #1\nstrb r4, [r0]\npop {r4}\nbx lr\n", []string{"balance-stack"}},
	{CodeCompareUnused, Warning, "Compare whose flags nobody reads",
		"A compare or test only sets flags, and another line sets them anew before anything reads them. Most 16-bit operations set the flags, also MOVS, ADDS and LSLS: put the compare right before the branch.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: cmp r0, #4\nadds r1, #1\nbhi 1f\nmovs r0, #0\n1: bx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: adds r1, #1\ncmp r0, #4\nbhi 1f\nmovs r0, #0\n1: bx lr\n", []string{"compare-last", "keep-flags"}},
	{CodeFlagsOfTwo, Warning, "Condition on flags of two lines",
		"The condition looks at several flags. A compare has set them all, and a line after it, such as MOVS or LSLS, has set some of them anew, so that the condition is about two values at once. Put the compare right before the branch, or use a line that keeps the flags.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: cmp r0, #4\nmovs r1, #0\nbhi 1f\nmovs r0, #0\n1: bx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: movs r1, #0\ncmp r0, #4\nbhi 1f\nmovs r0, #0\n1: bx lr\n", []string{"compare-last", "keep-flags"}},
	{CodeConditionKnown, Hint, "Condition that is always or never true",
		"What the flags are is known here, so the condition decides nothing. That may be meant, as in code that is made by macros; else the compare is with the wrong register or number, or a line between changes the flags.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: movs r0, #1\ncmp r0, #2\nbeq 1f\nmovs r1, #0\n1: bx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: cmp r0, #2\nbeq 1f\nmovs r1, #0\n1: bx lr\n", nil},
	{CodeNotRestored, Hint, "Register that a function has to keep",
		"A function that is called by the procedure call standard keeps r4 to r11 (AAPCS32, 6.1.1). This one changes some, and saves them nowhere. Routines that are called by assembly only may have other rules.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: movs r4, #1\nstrb r4, [r0]\nbx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: movs r3, #1\nstrb r3, [r0]\nbx lr\n", []string{"save-register"}},
	{CodeChangedByCall, Hint, "Register that a call may change",
		"A routine of another file may change r0 to r3, r12 and the flags (AAPCS32, 6.1.1). What is read here was in its register before the call. If the routine is known to keep it, all is well.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: push {r4, lr}\nmovs r3, #1\nbl set\nstrb r3, [r4]\npop {r4, pc}\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: push {r4, r5, r6, lr}\nmovs r5, #1\nbl set\nstrb r5, [r4]\npop {r4, r5, r6, pc}\n", nil},
	{CodeValueUnused, Hint, "Value that nobody reads",
		"Each way from here overwrites the register before anything reads it: the line can go, or has the wrong register.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: adds r2, r0, #1\nmovs r2, #5\nstrb r2, [r1]\nbx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: adds r2, r0, #1\nmovs r3, #5\nstrb r3, [r1]\nstrb r2, [r1, #1]\nbx lr\n", nil},
	{CodeUnreached, Hint, "Code that is never reached",
		"The line before never goes on, this one has no label, and nothing leads here by its address.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: movs r0, #0\nbx lr\nmovs r0, #1\nbx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: cmp r0, #0\nbeq 1f\nmovs r0, #1\n1: bx lr\n", nil},
	{CodeRunsOut, Warning, "Execution runs out of the code",
		"A routine goes on after its last instruction: into data, which are then executed as instructions, into the next function after its own has ended, by `.size`, or beyond the end of its section, where the linker puts whatever it likes. A return or a branch is missing.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: movs r0, #1\nstrb r0, [r1]\naspects: .byte 1, 2, 4, 8\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: movs r0, #1\nstrb r0, [r1]\nbx lr\naspects: .byte 1, 2, 4, 8\n", nil},
	{CodeStateKept, Warning, "Jump that keeps the state of the core",
		"Only BX and BLX change between A32 and Thumb code on each core. POP, LDM and LDR of pc do so from ARMv5T on, and take bit 0 for nothing before; MOV and arithmetic with pc do from ARMv7 on, in A32 code only. Here the code that is gone to, or the caller that is returned to, is of the other state and is executed as garbage. Load the address into a register, and BX to it. It is a hint where a function for other files returns so, in a source with code of both states, as it depends on who calls it.",
		".arch armv4t\n.syntax unified\n.arm\n.global lamp\nlamp: ldr r1, =set\nmov pc, r1\n.thumb\n.thumb_func\nset: movs r0, #1\nbx lr\n",
		".arch armv4t\n.syntax unified\n.arm\n.global lamp\nlamp: ldr r1, =set\nbx r1\n.thumb\n.thumb_func\nset: movs r0, #1\nbx lr\n", []string{"return-by-bx"}},
	{CodeReturnMade, Warning, "Return address that is wrong",
		"The line jumps to a routine with a return address in lr that was made by hand. In Thumb code bit 0 of it has to be set, and MOV lr, pc leaves it clear: BX lr then comes back in A32 state, or faults on a core without it. MOV lr, pc has to be right before the jump, as pc reads 4 ahead in Thumb code and 8 in A32 code. BLX does all of it from ARMv5T on; before, BL to a BX nearby does.",
		".arch armv4t\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: push {r4, lr}\nldr r1, =set\nmov lr, pc\nbx r1\npop {r4}\npop {r3}\nbx r3\n", ".arch armv4t\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: push {r4, lr}\nldr r1, =set\nbl 1f\npop {r4}\npop {r3}\nbx r3\n1: bx r1\n", []string{"call-by-blx"}},
	{CodeFlagsUnset, Warning, "Flags that nobody has set",
		"A function reads flags, as a condition or as the carry of an addition, before any line of it has set them. They are whatever the caller had in them, as flags mean nothing where a function is called (AAPCS32, 6.1.1). A compare is missing, or comes too late.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: beq 1f\nmovs r0, #1\n1: bx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: cmp r0, #0\nbeq 1f\nmovs r0, #1\n1: bx lr\n", nil},
	{CodeReadUnset, Hint, "Read before anything is there",
		"The line reads a word of the routine's own stack that nothing has stored to, or computes with a register that nothing has set and that no argument comes in: r4 to r11 are the caller's, and r12 has no meaning where a function is called (AAPCS32, 6.1.1). Saving a register is no such use.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: sub sp, #8\nstr r0, [sp]\nldr r0, [sp, #4]\nadd sp, #8\nbx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: sub sp, #8\nstr r0, [sp, #4]\nldr r0, [sp, #4]\nadd sp, #8\nbx lr\n", nil},
	{CodeStackAlign, Hint, "Stack that is not aligned to 8 bytes at a call",
		"Where a function of another file is called, sp has to be a multiple of 8 (AAPCS32, 6.2.1.2): it may keep doublewords on the stack, and LDRD or STRD fault or go wrong elsewhere on some cores. A function begins with such a stack; push an even number of registers, or make room of a multiple of 8 with them.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: push {lr}\nbl set\npop {pc}\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: push {r4, lr}\nbl set\npop {r4, pc}\n", nil},
	{CodeReadOnly, Warning, "Store into a section that is not for writing",
		"The address is in a section of constants, which a linker puts beside the code, in flash or in pages that are not for writing: the store faults, or nothing happens. Put what changes into .data or .bss. In a section for code it is a hint, as code may be run in RAM, and change itself.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: ldr r1, =aspect\nstrb r0, [r1]\nbx lr\n.section .rodata\naspect: .byte 1\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: ldr r1, =aspect\nstrb r0, [r1]\nbx lr\n.data\naspect: .byte 1\n", nil},
	{CodeConditionIdle, Hint, "Condition that makes no difference",
		"Whether the condition holds or not, the same comes of it: a branch goes to the next line, a line gives a register the value that it has then, or two lines on opposite conditions do the same. The wrong value or label is in one of them, or the lines can go.",
		".arch armv7-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: cmp r0, #0\nite eq\nmoveq r2, #1\nmovne r2, #1\nstrb r2, [r1]\nbx lr\n", ".arch armv7-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: cmp r0, #0\nite eq\nmoveq r2, #1\nmovne r2, #2\nstrb r2, [r1]\nbx lr\n", nil},
	{CodeEndless, Warning, "Loop that cannot end",
		"The loop has a condition on which it would end, but each time round it is the same: no line of the loop changes what it looks at, or its values are known and never fit. A counter that nobody counts is a usual reason. Loops without a condition, and those of one line, are meant to go on for ever.",
		".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: strb r1, [r0]\nadds r0, #1\ncmp r2, #0\nbne lamp\nbx lr\n", ".arch armv6-m\n" + UnifiedThumb + ".thumb_func\n.global lamp\nlamp: strb r1, [r0]\nadds r0, #1\nsubs r2, #1\nbne lamp\nbx lr\n", nil},
}

// Checks lists all checks in the order of the documentation.
func Checks() []Check { return append([]Check(nil), Registry...) }

func ByCode(code string) *Check {
	for i := range Registry {
		if Registry[i].Code == code {
			return &Registry[i]
		}
	}
	return nil
}
