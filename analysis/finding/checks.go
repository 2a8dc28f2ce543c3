package finding

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

const UnifiedT = ".syntax unified\n.thumb\n"

var Registry = []Check{
	{CodeConstRange, Error, "Constant out of range",
		"A 16-bit encoding has few bits for its constant: 8 for a move or compare, 3 for an add or subtract with three operands, 8 with two, 5 for a shift or an offset (counted in units of the access), 7 or 8 words for the stack. A32 holds eight bits rotated by an even amount, T32 a byte rotated or repeated; their offsets have 8 or 12 bits. A constant outside needs a detour: a shorter form, two instructions, or a word in the literal pool.",
		UnifiedT + "movs r0, #300\n", UnifiedT + "ldr r0, =300\nbx lr\n",
		[]string{"round-stack", "move-invert", "move-negate", "move-shift", "move-then-add", "move-add", "move-halves", "mask-field", "two-adds", "two-shifts", "offset-register", "address-first", "step-base", "extend-after", "literal-load", "constant-register", "shift-first", "pool-address", "drop-width"}},
	{CodeConstAlign, Error, "Constant that is no multiple of its unit",
		"Offsets of words and halfwords, and amounts on the stack, are held in units of 4 or 2 bytes. A value in between has no encoding.",
		UnifiedT + "ldr r0, [r1, #6]\n", UnifiedT + "ldr r0, [r1, #8]\n",
		[]string{"round-stack", "move-then-add", "offset-register", "address-first", "step-base", "extend-after", "constant-register", "drop-width"}},
	{CodeConstNegative, Error, "Negative constant",
		"Constants of 16-bit encodings have no sign. A negative one is made from a positive one: by NEG (RSBS #0) or MVN after a move, or from the literal pool. An add of a negative constant is a subtraction, which assemblers do by themselves.",
		UnifiedT + "movs r0, #-5\n", UnifiedT + "movs r0, #5\nrsbs r0, r0, #0\n",
		[]string{"round-stack", "move-negate", "move-invert", "move-shift", "compare-negative", "two-adds", "offset-register", "address-first", "step-base", "literal-load", "constant-register", "drop-width"}},
	{CodeLowRegs, Error, "Operation reaches only r0–r7",
		"Three bits name a register in nearly all 16-bit encodings, so r8 to r15 are out of reach. Only MOV, ADD, CMP and BX (BLX) take them; there is no subtract. A value in a high register goes through a low one.",
		UnifiedT + "subs r8, r8, #1\n", UnifiedT + "mov r0, r8\nsubs r0, r0, #1\nmov r8, r0\n",
		[]string{"round-stack", "via-low", "compare-branch", "compute-aside", "two-shifts", "move-then-add", "constant-register", "address-first", "offset-register", "extend-after", "literal-load", "drop-width"}},
	{CodeNoForm, Error, "No such form in this mode",
		"The instruction exists, but not with these operands: MVN and the other bitwise operations take registers only, signed loads have a register offset only, most operations have their destination as the first source, and no access changes its base register except load and store multiple. A short detour says the same.",
		UnifiedT + "mvns r0, #5\n", UnifiedT + "movs r0, #5\nmvns r0, r0\n",
		[]string{"round-stack", "compare-negative", "constant-register", "extend-after", "offset-register", "address-first", "two-operand", "step-base", "skip-branch", "move-then-add", "literal-load", "older-sequence", "compare-branch", "shift-first", "via-low", "compute-aside", "drop-width", "near-name", "address-load"}},
	{CodeFlagsForm, Error, "Only the flag-setting spelling exists, or only the other one",
		"Most 16-bit operations on low registers set the flags. The unified syntax says so with an s (adds, movs, lsls); the divided, older syntax has no such letter. A spelling of the other kind asks for an encoding that does not exist here.",
		UnifiedT + "add r0, r1, #1\n", UnifiedT + "adds r0, r1, #1\n",
		[]string{"round-stack", "flag-spelling", "move-then-add", "two-adds", "constant-register", "drop-width"}},
	{CodeLitBehind, Error, "Literal behind PC",
		"A load from a label and ADR add an unsigned offset to PC: in 16-bit code they reach only what stands after them. A word that stands before needs a copy further on, or its address from the literal pool.",
		UnifiedT + ".align 2\ntable: .word 1\nldr r0, table\n", UnifiedT + "ldr r0, table\nbx lr\n.align 2\ntable: .word 1\n",
		[]string{"pool-copy", "pool-address"}},
	{CodeLitReach, Error, "Literal or address out of reach",
		"A 16-bit load from PC or ADR reaches 1020 bytes ahead. A pool placed nearer (.ltorg at a point that execution never falls into) or the address as a pool word helps.",
		UnifiedT + "ldr r0, =0x12345678\nbx lr\n.space 1100\n", UnifiedT + "ldr r0, =0x12345678\nbx lr\n.ltorg\n.space 1100\n",
		[]string{"insert-pool", "pool-address", "pool-copy"}},
	{CodeLitAlign, Error, "Literal or address not word-aligned",
		"The offset from PC counts in words, from PC rounded down to a word. A label between words cannot be loaded from or addressed.",
		UnifiedT + "ldr r0, w\nbx lr\nnop\nw: .hword 1, 2\n", UnifiedT + "ldr r0, w\nbx lr\n.align 2\nw: .hword 1, 2\n",
		[]string{"align", "pool-address"}},
	{CodeBranchReach, Error, "Branch out of reach",
		"A conditional branch reaches 256 bytes back and 254 ahead of PC (which is 4 ahead of the branch), an unconditional one 2048 and 2046, BL 4 MB (16 MB from ARMv6T2 and on ARMv6-M). Beyond, the inverted condition jumps around a far branch.",
		UnifiedT + "beq far\n.space 300\nfar: nop\n", UnifiedT + "bne 1f\nb far\n1: .space 300\nfar: nop\n",
		[]string{"invert-branch", "compare-branch", "far-call", "drop-width"}},
	{CodeBranchOdd, Warning, "Branch to an odd address",
		"A branch's distance counts in halfwords, so bit 0 of the target is lost. Only the register of BX and BLX holds the bit that keeps the core in T16 state.",
		UnifiedT + "b next+1\nnext: nop\n", UnifiedT + "b next\nnext: nop\n",
		[]string{"even-target"}},
	{CodeRegList, Error, "Register list not allowed",
		"PUSH and POP take r0 to r7, and LR to push or PC to pop; the other multiple loads and stores take r0 to r7 alone. High registers go through low ones.",
		UnifiedT + "push {r0, r8}\n", UnifiedT + "push {r0, lr}\n",
		[]string{"older-sequence", "list-high"}},
	{CodeBaseInList, Warning, "Base register in the list",
		"STM with its base register in the list stores an unknown value for it, unless it is the lowest register. LDM with its base in the list loads it and does not write the base back.",
		UnifiedT + "stmia r1!, {r0, r1}\n", UnifiedT + "stmia r0!, {r0, r1}\n", nil},
	{CodeNotOnArch, Error, "Not on this architecture",
		"The instruction or instruction set came with a later architecture, or belongs to another profile, than the one set by .cpu, .arch, the setting or the default armv4t.",
		".arch armv4t\n" + UnifiedT + "rev r0, r1\n", ".arch armv6\n" + UnifiedT + "rev r0, r1\n",
		[]string{"older-sequence", "compare-branch", "move-shift", "move-add", "literal-load", "call-through", "drop-width"}},
	{CodeMnemonic, Error, "Unknown mnemonic",
		"No instruction set that is known here has this name, and no macro above defines it.",
		UnifiedT + "mvoe r0, r1\n", UnifiedT + "movs r0, r1\n", []string{"near-name"}},
	{CodeUnknownDir, Error, "Unknown directive",
		"No assembler directive has this name, and no macro above defines it.",
		".thmub\n", ".thumb\n", []string{"near-name"}},
	{CodeDirective, Error, "Directive's argument",
		"A directive got an argument that it cannot use, or stands where it does not belong.",
		".balign 3\n", ".balign 4\n", nil},
	{CodeInclude, Error, "File to include not found",
		"The file named by .include is neither in the folder of the including file nor in a folder of the setting include, or it includes itself.",
		".include \"no-such-file.inc\"\n", ".equ X, 1\n", nil},
	{CodeUndefined, Error, "Symbol not defined where its value is needed",
		"The place needs a number that the assembler knows by itself: a constant in an instruction, the size of a space, a literal in the same file. A linker cannot supply it.",
		UnifiedT + "movs r0, #LIMIT\n", UnifiedT + ".equ LIMIT, 9\nmovs r0, #LIMIT\n", []string{"near-name", "address-load"}},
	{CodeExternal, Hint, "Symbol from another file",
		"The symbol is not defined in this file and not declared by .extern. The linker has to supply it; a misspelt name shows itself only there.",
		UnifiedT + "bl elsewhere\n", UnifiedT + ".extern elsewhere\nbl elsewhere\n", []string{"near-name"}},
	{CodeDuplicate, Error, "Symbol defined twice",
		"A label stands once in a file, and .equiv gives a value once. Numeric labels (1:, used as 1f and 1b) may repeat.",
		"x: .word 1\nx: .word 2\n", "x: .word 1\ny: .word 2\n", nil},
	{CodeDataRange, Error, "Value does not fit into the data",
		"The value has more bits than the directive's unit. Of what is known in the line assemblers keep the low bits with a warning; a value that hangs on lines below is an error.",
		".byte end-start\nstart: .space 300\nend:\n", ".hword end-start\nstart: .space 300\nend:\n", nil},
	{CodeDataAlign, Warning, "Misaligned data",
		"A word is loaded right only from a multiple of 4, a halfword from a multiple of 2. Elsewhere the older cores return rotated or wrong values without any sign (ARMv4T to ARMv5), and ARMv6-M cores fault.",
		".byte 1\ntable: .word 2\n", ".byte 1\n.align 2\ntable: .word 2\n", []string{"align"}},
	{CodeCodeAlign, Warning, "Misaligned code",
		"T16 instructions stand at even addresses, A32 instructions at multiples of 4. Code behind an odd number of data bytes is not where branches go.",
		UnifiedT + ".byte 1\nnop\n", UnifiedT + ".byte 1\n.align 1\nnop\n", []string{"align"}},
	{CodeModeMix, Warning, "Mode of the code and of the branch's target differ",
		"The core stays in its state through a plain branch, and when it runs on from one line to the next; only BX, BLX and loads of PC change it. Code assembled for the other state is then executed as garbage.",
		".syntax unified\n.arm\nb t\n.thumb\nt: nop\n", ".syntax unified\n.arm\nadr r0, t+1\nbx r0\n.thumb\nt: nop\n", []string{"call-exchange"}},
	{CodeStateBit, Warning, "Bit 0 of a branch-exchange target",
		"BX and BLX through a register take the new state from bit 0: set for T16, clear for A32. The address of a T16 label has it set only where the label is marked as a function (.thumb_func, or .type with %function) and a linker or pool word supplies the address; otherwise 1 has to be added.",
		UnifiedT + "ldr r0, =t\nbx r0\nt: bx lr\n", UnifiedT + "ldr r0, =t+1\nbx r0\nt: bx lr\n",
		[]string{"mark-function", "set-state-bit", "clear-state-bit"}},
	{CodePoolPath, Warning, "Execution runs into a literal pool",
		"The pool's words would be executed as instructions. A pool belongs behind an instruction that never goes on: a branch, a return.",
		UnifiedT + "ldr r0, =0x12345678\n.ltorg\nbx lr\n", UnifiedT + "ldr r0, =0x12345678\nbx lr\n.ltorg\n",
		[]string{"branch-over-pool"}},
	{CodeITBlock, Error, "Condition and IT block",
		"In the compact state an IT line makes the one to four instructions behind it conditional. Each of them names the condition that its slot has: that of the IT line where the pattern has a T, the opposite where it has an E. What has a condition stands in such a block (branches need none), what jumps stands last in it, and some instructions, among them IT itself, CBZ and what sets the flags in 16 bits, must not stand there. In A32 code an IT line makes nothing, and is checked all the same. Where the assembler inserts IT lines by itself, the setting implicitIT says so: then a line with a condition outside of blocks gets one in front.",
		".arch armv7-a\n" + UnifiedT + "cmp r0, #0\nmoveq r0, r1\n", ".arch armv7-a\n" + UnifiedT + "cmp r0, #0\nit eq\nmoveq r0, r1\n", []string{"it-insert", "skip-branch", "it-condition", "it-close", "it-last"}},
	{CodeUnpredictable, Warning, "Deprecated or unpredictable operands",
		"The operands have an encoding, and the architecture manual calls its effect unpredictable, or deprecates it.",
		UnifiedT + "add pc, r0\n", UnifiedT + "bx r0\n", nil},
	{CodeSyntax, Error, "Cannot be read",
		"The line does not follow the language: a missing bracket, an operand that is no operand, text behind the end.",
		UnifiedT + "ldr r0, [r1\n", UnifiedT + "ldr r0, [r1]\n", []string{"add-colon"}},
	{CodeMacroDef, Error, "Definition of a macro or repetition",
		"A macro starts with .macro, its name and its parameters, and ends at .endm; .rept, .irp and .irpc end at .endr. A name that is taken can be defined anew behind .purgem alone. Capital and small letters are the same in a macro's name.",
		".macro point\n.endm\n.macro POINT\n.endm\n", ".macro point\n.endm\n.purgem point\n.macro POINT\n.endm\n", nil},
	{CodeMacroArg, Error, "Argument of a macro",
		"A call gives values by position, or by name behind the ones by position. Arguments end at a comma, and at a blank between two names or numbers; brackets keep blanks together, double quotes blanks and commas. A parameter with :req needs a value, one with :vararg takes all that is left.",
		".macro signal aspect, number\n.byte \\aspect, \\number\n.endm\nsignal 1, 2, 3\n", ".macro signal aspect, number\n.byte \\aspect, \\number\n.endm\nsignal 1, number=2\n", nil},
	{CodeMacroDepth, Error, "Macros nested too deep",
		"A macro that calls itself needs a condition that ends the recursion. Expansions may stand in each other 101 deep, as assemblers have it.",
		".macro lamps n\n.byte \\n\nlamps \\n-1\n.endm\nlamps 3\n", ".macro lamps n\n.byte \\n\n.if \\n-1\nlamps \\n-1\n.endif\n.endm\nlamps 3\n", nil},
	{CodeMacroSize, Warning, "Macros and repetitions too large",
		"The expansions of one program are followed up to a million statements; what comes behind that counts as code of unknown size. A .space or .fill says the same as a long .rept of data.",
		".rept 600000\n.byte 1\n.byte 2\n.endr\n", ".fill 600000, 2, 0x0201\n", nil},
	{CodePreprocessor, Error, "Refused by the preprocessor",
		"Sources with a name in .S go through the C preprocessor before the assembler sees them. It refuses conditions without an end, expressions that cannot be computed, macros with too few or too many arguments, and what #error says. A name that no #define knows is 0 in #if, and no error.",
		"#if POINTS > 4 &&\n.byte 1\n#endif\n", "#if POINTS > 4 && SIGNALS\n.byte 1\n#endif\n", nil},
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
