package syntax

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// ArgStyle says how a directive's arguments are read.
type ArgStyle uint8

// The styles.
const (
	ArgsNone    ArgStyle = iota // none
	ArgsExprs                   // expressions, separated by commas
	ArgsStrings                 // strings
	ArgsSymbols                 // names, and expressions after them
	ArgsText                    // any text, not looked into
	ArgsRaw                     // text that the analysis reads itself
)

// Effect is what a directive does to the layout and to the state.
type Effect uint8

// The effects. EffNone directives leave the size alone.
const (
	EffNone   Effect = iota
	EffData          // Unit bytes an argument
	EffString        // the strings' bytes, and Unit zero bytes after each
	EffSpace
	EffFill
	EffOrg
	EffAlignPow  // to a power of two: .align n
	EffAlignByte // to n bytes: .balign n
	EffEven
	EffAlignFrom // to n bytes from an offset: ALIGN n, offset
	EffPool
	EffSection
	EffPush
	EffPop
	EffPrevious
	EffSubsection
	EffSet
	EffEqv
	EffGlobal
	EffExtern
	EffExport // names, and attributes in brackets
	EffImport // the same
	EffThumb
	EffArm
	EffCode
	EffThumbFunc
	EffThumbSet
	EffCPU
	EffArch
	EffArchExt
	EffFPU
	EffSyntax
	EffReq
	EffUnreq
	EffTyped
	EffInclude
	EffIncbin
	EffMacro
	EffMacroBelow // a macro whose name and parameters are in the next line
	EffEndm
	EffRept
	EffEndr
	EffIf // a number, or what the directive's name says
	EffElseif
	EffElse
	EffEndif
	EffEnd
	EffComm
	EffCommon // a name, and what the linker looks at
	EffType
	EffInst
	EffLEB
	EffStruct
	EffError
	EffSize
	EffExitm
	EffPurgem
	EffAltmacro // Unit 1: on, 0: off
	EffFloat    // floating-point numbers of Unit bytes
	EffFillOf   // .dcb: a count, then a value of Unit bytes, a float if Float
	EffWide     // strings of characters of Unit bytes
	EffNop
	EffCheck // arguments are checked, nothing else happens
)

// DirectiveInfo is the one description of a directive.
type DirectiveInfo struct {
	Name      string // with its dot
	Args      ArgStyle
	Effect    Effect
	Unit      int // bytes a value, for data
	Usage     string
	Doc       string // one sentence
	NameFirst bool   // "name .req register": the name is before it
	Align     uint8  // what it aligns itself to, in bytes
	Float     bool   // EffFillOf: the value is a floating-point number
	Word      bool   // its name is a word, which a macro may have too
	Logical   bool   // EffIf, EffElseif, EffWhile: the condition is a logical expression
	Strings   bool   // EffData: takes strings as well
	Anywhere  bool   // EffData: may be misaligned
	Lenient   bool   // what assemblers refuse of its arguments is not known
	Whole     bool   // EffExitm: leaves the macro, not a repetition in it
	Weak      bool   // EffGlobal, EffExport: the definition is a weak one
	Spelling  Spelling
}

// NamesOffset says whether the directive's first argument is a place in the section, which
// may be a number that no edit moves.
func (d *DirectiveInfo) NamesOffset() bool { return d.Name == ".reloc" }

// Leads says whether the directive is about what comes after it, as it says how that is read, where
// it is placed or how others see its name: between two routines it is with the second one.
func (d *DirectiveInfo) Leads() bool {
	switch d.Effect {
	case EffThumb, EffArm, EffCode, EffThumbFunc, EffSyntax, EffCPU, EffArch, EffArchExt, EffFPU, EffGlobal, EffExtern, EffExport, EffImport, EffType,
		EffAlignPow, EffAlignByte, EffAlignFrom, EffEven, EffSection, EffPush, EffPop, EffPrevious, EffSubsection, EffIf,
		EffMacro, EffMacroBelow, EffEndm, EffEnd:
		return true
	}
	return false
}

// Spelling is the syntax of instructions that a directive chooses.
type Spelling uint8

// The spellings.
const (
	SpellingKept Spelling = iota
	SpellingUnified
	SpellingDivided
)

var directiveList = []DirectiveInfo{
	{Name: ".thumb", Effect: EffThumb, Usage: ".thumb", Doc: "What follows is T16 (or T32) code."},
	{Name: ".arm", Effect: EffArm, Usage: ".arm", Doc: "What follows is A32 code; coming from T16, the place is aligned to 4 bytes."},
	{Name: ".code", Args: ArgsExprs, Effect: EffCode, Usage: ".code 16|32", Doc: "16: T16 code follows. 32: A32 code follows."},
	{Name: ".thumb_func", Effect: EffThumbFunc, Usage: ".thumb_func", Doc: "The next label is a T16 function: its address gets bit 0 set where a linker fills it in."},
	{Name: ".thumb_set", Args: ArgsSymbols, Effect: EffThumbSet, Usage: ".thumb_set name, value", Doc: "As .set, and marks the name as a T16 function."},
	{Name: ".syntax", Args: ArgsSymbols, Effect: EffSyntax, Usage: ".syntax unified|divided", Doc: "The spelling of instructions: unified writes adds where flags change, divided (the older one) writes add."},
	{Name: ".cpu", Args: ArgsRaw, Effect: EffCPU, Usage: ".cpu name", Doc: "The core; decides which instructions exist."},
	{Name: ".arch", Args: ArgsRaw, Effect: EffArch, Usage: ".arch name", Doc: "The architecture; decides which instructions exist."},
	{Name: ".arch_extension", Args: ArgsRaw, Effect: EffArchExt, Usage: ".arch_extension name", Doc: "Adds an extension to the architecture."},
	{Name: ".object_arch", Args: ArgsText, Effect: EffCheck, Usage: ".object_arch name", Doc: "The architecture recorded in the object file."},
	{Name: ".fpu", Args: ArgsRaw, Effect: EffFPU, Usage: ".fpu name", Doc: "The floating-point unit."},
	{Name: ".force_thumb", Effect: EffThumb, Usage: ".force_thumb", Doc: "What follows is T16 code, whatever the architecture has."},

	{Name: ".byte", Args: ArgsExprs, Effect: EffData, Unit: 1, Usage: ".byte value, …", Doc: "Bytes."},
	{Name: ".hword", Args: ArgsExprs, Effect: EffData, Unit: 2, Usage: ".hword value, …", Doc: "Halfwords of 2 bytes."},
	{Name: ".short", Args: ArgsExprs, Effect: EffData, Unit: 2, Usage: ".short value, …", Doc: "Halfwords of 2 bytes."},
	{Name: ".2byte", Args: ArgsExprs, Effect: EffData, Unit: 2, Usage: ".2byte value, …", Doc: "Halfwords of 2 bytes."},
	{Name: ".word", Args: ArgsExprs, Effect: EffData, Unit: 4, Usage: ".word value, …", Doc: "Words of 4 bytes."},
	{Name: ".long", Args: ArgsExprs, Effect: EffData, Unit: 4, Usage: ".long value, …", Doc: "Words of 4 bytes."},
	{Name: ".int", Args: ArgsExprs, Effect: EffData, Unit: 4, Usage: ".int value, …", Doc: "Words of 4 bytes."},
	{Name: ".4byte", Args: ArgsExprs, Effect: EffData, Unit: 4, Usage: ".4byte value, …", Doc: "Words of 4 bytes."},
	{Name: ".quad", Args: ArgsExprs, Effect: EffData, Unit: 8, Usage: ".quad value, …", Doc: "Doublewords of 8 bytes."},
	{Name: ".8byte", Args: ArgsExprs, Effect: EffData, Unit: 8, Usage: ".8byte value, …", Doc: "Doublewords of 8 bytes."},
	{Name: ".octa", Args: ArgsExprs, Effect: EffData, Unit: 16, Usage: ".octa value, …", Doc: "Values of 16 bytes."},
	{Name: ".float", Args: ArgsText, Effect: EffFloat, Unit: 4, Usage: ".float value, …", Doc: "Floating-point numbers of 4 bytes."},
	{Name: ".single", Args: ArgsText, Effect: EffFloat, Unit: 4, Usage: ".single value, …", Doc: "Floating-point numbers of 4 bytes."},
	{Name: ".double", Args: ArgsText, Effect: EffFloat, Unit: 8, Usage: ".double value, …", Doc: "Floating-point numbers of 8 bytes."},
	{Name: ".float16", Args: ArgsText, Effect: EffFloat, Unit: 2, Usage: ".float16 value, …", Doc: "Floating-point numbers of 2 bytes."},
	{Name: ".bfloat16", Args: ArgsText, Effect: EffFloat, Unit: 2, Usage: ".bfloat16 value, …", Doc: "Floating-point numbers of 2 bytes with the exponent of a single."},
	{Name: ".extend", Args: ArgsText, Effect: EffFloat, Unit: 10, Usage: ".extend value, …", Doc: "Floating-point numbers of 10 bytes."},
	{Name: ".ldouble", Args: ArgsText, Effect: EffFloat, Unit: 10, Usage: ".ldouble value, …", Doc: "Floating-point numbers of 10 bytes."},
	{Name: ".packed", Args: ArgsText, Effect: EffFloat, Unit: 12, Usage: ".packed value, …", Doc: "Packed decimal numbers of 12 bytes."},
	{Name: ".ascii", Args: ArgsStrings, Effect: EffString, Usage: ".ascii \"text\", …", Doc: "The bytes of the strings."},
	{Name: ".asciz", Args: ArgsStrings, Effect: EffString, Unit: 1, Usage: ".asciz \"text\", …", Doc: "The bytes of the strings, with a zero byte after each."},
	{Name: ".string", Args: ArgsStrings, Effect: EffString, Unit: 1, Usage: ".string \"text\", …", Doc: "The bytes of the strings, with a zero byte after each."},
	{Name: ".string8", Args: ArgsStrings, Effect: EffString, Unit: 1, Usage: ".string8 \"text\", …", Doc: "The bytes of the strings, with a zero byte after each."},
	{Name: ".string16", Args: ArgsStrings, Effect: EffWide, Unit: 2, Usage: ".string16 \"text\", …", Doc: "The characters of the strings in 2 bytes each, with a zero after each string."},
	{Name: ".string32", Args: ArgsStrings, Effect: EffWide, Unit: 4, Usage: ".string32 \"text\", …", Doc: "The characters of the strings in 4 bytes each, with a zero after each string."},
	{Name: ".string64", Args: ArgsStrings, Effect: EffWide, Unit: 8, Usage: ".string64 \"text\", …", Doc: "The characters of the strings in 8 bytes each, with a zero after each string."},
	{Name: ".space", Args: ArgsExprs, Effect: EffSpace, Usage: ".space size[, fill]", Doc: "So many bytes, zero or fill."},
	{Name: ".skip", Args: ArgsExprs, Effect: EffSpace, Usage: ".skip size[, fill]", Doc: "So many bytes, zero or fill."},
	{Name: ".zero", Args: ArgsExprs, Effect: EffSpace, Usage: ".zero size", Doc: "So many zero bytes."},
	{Name: ".fill", Args: ArgsExprs, Effect: EffFill, Usage: ".fill repeat[, size[, value]]", Doc: "A value of size bytes, repeated."},
	{Name: ".org", Args: ArgsExprs, Effect: EffOrg, Usage: ".org offset[, fill]", Doc: "Moves the location counter forward to an offset in the section."},
	{Name: ".align", Args: ArgsExprs, Effect: EffAlignPow, Usage: ".align [power[, fill[, most]]]", Doc: "Aligns to 2 to the power of the argument: .align 2 is a word boundary. Without argument: 4 bytes."},
	{Name: ".p2align", Args: ArgsExprs, Effect: EffAlignPow, Usage: ".p2align power[, fill[, most]]", Doc: "Aligns to 2 to the power of the argument."},
	{Name: ".p2alignw", Args: ArgsExprs, Effect: EffAlignPow, Usage: ".p2alignw power[, fill[, most]]", Doc: "Aligns to 2 to the power of the argument, filling with halfwords."},
	{Name: ".p2alignl", Args: ArgsExprs, Effect: EffAlignPow, Usage: ".p2alignl power[, fill[, most]]", Doc: "Aligns to 2 to the power of the argument, filling with words."},
	{Name: ".balign", Args: ArgsExprs, Effect: EffAlignByte, Usage: ".balign bytes[, fill[, most]]", Doc: "Aligns to a number of bytes, a power of two."},
	{Name: ".balignw", Args: ArgsExprs, Effect: EffAlignByte, Usage: ".balignw bytes[, fill[, most]]", Doc: "Aligns to a number of bytes, filling with halfwords."},
	{Name: ".balignl", Args: ArgsExprs, Effect: EffAlignByte, Usage: ".balignl bytes[, fill[, most]]", Doc: "Aligns to a number of bytes, filling with words."},
	{Name: ".even", Effect: EffEven, Usage: ".even", Doc: "Aligns to 2 bytes."},
	{Name: ".ltorg", Effect: EffPool, Usage: ".ltorg", Doc: "Places the literal pool here: the words for ldr rX, =value since the last pool."},
	{Name: ".pool", Effect: EffPool, Usage: ".pool", Doc: "Places the literal pool here: the words for ldr rX, =value since the last pool."},
	{Name: ".inst", Args: ArgsExprs, Effect: EffInst, Usage: ".inst code, …", Doc: "Machine code given as numbers."},
	{Name: ".inst.n", Args: ArgsExprs, Effect: EffInst, Unit: 2, Usage: ".inst.n code, …", Doc: "16-bit machine code given as numbers."},
	{Name: ".inst.w", Args: ArgsExprs, Effect: EffInst, Unit: 4, Usage: ".inst.w code, …", Doc: "32-bit machine code given as numbers."},
	{Name: ".uleb128", Args: ArgsExprs, Effect: EffLEB, Usage: ".uleb128 value, …", Doc: "Unsigned numbers of variable length."},
	{Name: ".sleb128", Args: ArgsExprs, Effect: EffLEB, Usage: ".sleb128 value, …", Doc: "Signed numbers of variable length."},

	{Name: ".text", Args: ArgsExprs, Effect: EffSection, Usage: ".text [subsection]", Doc: "Goes on in the section .text."},
	{Name: ".data", Args: ArgsExprs, Effect: EffSection, Usage: ".data [subsection]", Doc: "Goes on in the section .data."},
	{Name: ".bss", Args: ArgsExprs, Effect: EffSection, Usage: ".bss [subsection]", Doc: "Goes on in the section .bss, which holds no bytes in the file."},
	{Name: ".section", Args: ArgsRaw, Effect: EffSection, Usage: ".section name[, \"flags\"[, %type]]", Doc: "Goes on in the named section."},
	{Name: ".sect", Args: ArgsRaw, Effect: EffSection, Usage: ".sect name[, \"flags\"[, %type]]", Doc: "Goes on in the named section."},
	{Name: ".section.s", Args: ArgsRaw, Effect: EffSection, Usage: ".section.s name[, \"flags\"[, %type]]", Doc: "Goes on in the named section."},
	{Name: ".sect.s", Args: ArgsRaw, Effect: EffSection, Usage: ".sect.s name[, \"flags\"[, %type]]", Doc: "Goes on in the named section."},
	{Name: ".pushsection", Args: ArgsRaw, Effect: EffPush, Usage: ".pushsection name[, subsection][, \"flags\"[, %type]]", Doc: "As .section, and remembers the present one."},
	{Name: ".popsection", Effect: EffPop, Usage: ".popsection", Doc: "Back to the section before .pushsection."},
	{Name: ".previous", Effect: EffPrevious, Usage: ".previous", Doc: "Back to the section before this one."},
	{Name: ".subsection", Args: ArgsExprs, Effect: EffSubsection, Usage: ".subsection number", Doc: "A part of the section, ordered by number."},
	{Name: ".struct", Args: ArgsExprs, Effect: EffStruct, Usage: ".struct offset", Doc: "Labels that follow are offsets in a record, no memory is taken."},
	{Name: ".offset", Args: ArgsExprs, Effect: EffStruct, Usage: ".offset offset", Doc: "Labels that follow are offsets in a record, no memory is taken."},

	{Name: ".equ", Args: ArgsSymbols, Effect: EffSet, Usage: ".equ name, value", Doc: "Gives a name a value."},
	{Name: ".set", Args: ArgsSymbols, Effect: EffSet, Usage: ".set name, value", Doc: "Gives a name a value."},
	{Name: ".equiv", Args: ArgsSymbols, Effect: EffSet, Unit: 1, Usage: ".equiv name, value", Doc: "Gives a name a value, once."},
	{Name: ".eqv", Args: ArgsSymbols, Effect: EffSet, Unit: 1, Usage: ".eqv name, value", Doc: "Gives a name an expression, computed where it is used."},
	{Name: ".req", Args: ArgsSymbols, Effect: EffReq, NameFirst: true, Usage: "name .req register", Doc: "Gives a register another name."},
	{Name: ".dn", Args: ArgsText, Effect: EffTyped, NameFirst: true, Usage: "name .dn register", Doc: "Gives a doubleword register a typed name."},
	{Name: ".qn", Args: ArgsText, Effect: EffTyped, NameFirst: true, Usage: "name .qn register", Doc: "Gives a quadword register a typed name."},
	{Name: ".unreq", Args: ArgsSymbols, Effect: EffUnreq, Usage: ".unreq name", Doc: "Takes a register's other name back."},
	{Name: ".global", Args: ArgsSymbols, Effect: EffGlobal, Usage: ".global name, …", Doc: "The linker may see the names."},
	{Name: ".globl", Args: ArgsSymbols, Effect: EffGlobal, Usage: ".globl name, …", Doc: "The linker may see the names."},
	{Name: ".xdef", Args: ArgsSymbols, Effect: EffGlobal, Usage: ".xdef name, …", Doc: "The linker may see the names."},
	{Name: ".weak", Args: ArgsSymbols, Effect: EffGlobal, Weak: true, Usage: ".weak name, …", Doc: "The names may be missing, or replaced by others at link time."},
	{Name: ".extern", Args: ArgsText, Effect: EffExtern, Usage: ".extern name, …", Doc: "The names are defined in another file."},
	{Name: ".comm", Args: ArgsText, Effect: EffComm, Usage: ".comm name, size[, alignment]", Doc: "Common storage that the linker lays out."},
	{Name: ".lcomm", Args: ArgsText, Effect: EffComm, Unit: 1, Usage: ".lcomm name, size", Doc: "Storage in .bss."},
	{Name: ".type", Args: ArgsText, Effect: EffType, Usage: ".type name, %function|%object", Doc: "What the symbol names; a %function in T16 code gets bit 0 set where a linker fills it in."},
	{Name: ".xcom", Args: ArgsText, Effect: EffComm, Usage: ".xcom name, size[, alignment]", Doc: "Common storage that the linker lays out."},
	{Name: ".common", Args: ArgsText, Effect: EffComm, Usage: ".common name, size[, alignment]", Doc: "Common storage that the linker lays out."},
	{Name: ".common.s", Args: ArgsText, Effect: EffComm, Usage: ".common.s name, size[, alignment]", Doc: "Common storage that the linker lays out."},
	{Name: ".tls_common", Args: ArgsText, Effect: EffComm, Usage: ".tls_common name, size[, alignment]", Doc: "Common storage of a thread."},
	{Name: ".size", Args: ArgsSymbols, Effect: EffSize, Usage: ".size name, size", Doc: "The size of what a symbol names."},

	{Name: ".include", Args: ArgsStrings, Effect: EffInclude, Usage: ".include \"file\"", Doc: "The text of another file."},
	{Name: ".incbin", Args: ArgsExprs, Effect: EffIncbin, Usage: ".incbin \"file\"[, skip[, count]]", Doc: "The bytes of another file."},
	{Name: ".macro", Args: ArgsRaw, Effect: EffMacro, Usage: ".macro name [parameter[:req|:vararg][=default], …]", Doc: "Starts the definition of a macro; it ends at .endm. \\name puts an argument in, \\@ the number of the call, \\() separates."},
	{Name: ".endm", Args: ArgsText, Effect: EffEndm, Usage: ".endm", Doc: "Ends the definition of a macro."},
	{Name: ".exitm", Args: ArgsText, Effect: EffExitm, Usage: ".exitm", Doc: "Leaves the expansion of a macro, or a repetition."},
	{Name: ".mexit", Args: ArgsText, Effect: EffExitm, Usage: ".mexit", Doc: "Leaves the expansion of a macro, or a repetition."},
	{Name: ".purgem", Args: ArgsText, Effect: EffPurgem, Usage: ".purgem name", Doc: "Forgets a macro."},
	{Name: ".altmacro", Effect: EffAltmacro, Unit: 1, Usage: ".altmacro", Doc: "Parameters of macros need no backslash from here on; LOCAL makes names, %expression computes an argument, <…> quotes one."},
	{Name: ".noaltmacro", Effect: EffAltmacro, Usage: ".noaltmacro", Doc: "Back from .altmacro."},
	{Name: ".rept", Args: ArgsExprs, Effect: EffRept, Usage: ".rept count", Doc: "Repeats the lines up to .endr."},
	{Name: ".rep", Args: ArgsExprs, Effect: EffRept, Usage: ".rep count", Doc: "Repeats the lines up to .endr."},
	{Name: ".irp", Args: ArgsRaw, Effect: EffRept, Usage: ".irp name, value, …", Doc: "Repeats the lines up to .endr for each value."},
	{Name: ".irpc", Args: ArgsRaw, Effect: EffRept, Usage: ".irpc name, characters", Doc: "Repeats the lines up to .endr for each character."},
	{Name: ".irep", Args: ArgsRaw, Effect: EffRept, Usage: ".irep name, value, …", Doc: "Repeats the lines up to .endr for each value."},
	{Name: ".irepc", Args: ArgsRaw, Effect: EffRept, Usage: ".irepc name, characters", Doc: "Repeats the lines up to .endr for each character."},
	{Name: ".endr", Args: ArgsText, Effect: EffEndr, Usage: ".endr", Doc: "Ends a repetition."},
	{Name: ".if", Args: ArgsExprs, Effect: EffIf, Usage: ".if value", Doc: "What follows is assembled when the value is not zero."},
	{Name: ".elseif", Args: ArgsExprs, Effect: EffElseif, Usage: ".elseif value", Doc: "Another condition."},
	{Name: ".else", Args: ArgsText, Effect: EffElse, Usage: ".else", Doc: "What follows is assembled when no condition before was true."},
	{Name: ".elsec", Args: ArgsText, Effect: EffElse, Usage: ".elsec", Doc: "What follows is assembled when no condition before was true."},
	{Name: ".endif", Args: ArgsText, Effect: EffEndif, Usage: ".endif", Doc: "Ends a conditional part."},
	{Name: ".endc", Args: ArgsText, Effect: EffEndif, Usage: ".endc", Doc: "Ends a conditional part."},
	{Name: ".end", Args: ArgsText, Effect: EffEnd, Usage: ".end", Doc: "The source ends here."},
	{Name: ".err", Args: ArgsText, Effect: EffError, Usage: ".err", Doc: "Stops the assembly."},
	{Name: ".abort", Args: ArgsText, Effect: EffError, Unit: 1, Usage: ".abort", Doc: "Stops the assembly here."},
	{Name: ".fail", Args: ArgsExprs, Effect: EffError, Usage: ".fail number", Doc: "Gives a warning for numbers of 500 or more, and stops the assembly for less."},
	{Name: ".nop", Args: ArgsText, Effect: EffNop, Usage: ".nop", Doc: "An instruction that does nothing."},
	{Name: ".error", Args: ArgsStrings, Effect: EffError, Usage: ".error \"text\"", Doc: "Stops the assembly with a message."},
	{Name: ".warning", Args: ArgsText, Effect: EffCheck, Usage: ".warning \"text\"", Doc: "Gives a message."},
}

// checkedDirectives are those that change neither size nor places in the sections
// of the source: usage, and after "|" what they are about.
const checkedDirectives = `
.hidden name, …|The linker sees the names only in the module of this file.
.internal name, …|The linker sees the names only in the module of this file.
.protected name, …|The names cannot be replaced from outside of their module.
.local name, …|The names stay in this file.
.weakref name, target|A name for another, which may be missing as long as only the name uses it.
.symver name, name@version[, local|hidden|remove]|Gives a name of this file a version.
.version "text"|A note with a version.
.ident "text"|A text for the comment section.
.file "name"|The name of the source file, for debuggers.
.loc file line [column] [options]|The line of source that the code comes from.
.loc_mark_labels 0|1|Whether labels begin basic blocks for debuggers.
.line number|The number of this line.
.linefile number "name"|The number of this line and its file.
.stabs "text", type, other, desc, value|A debugging record.
.stabn type, other, desc, value|A debugging record.
.stabd type, other, desc|A debugging record.
.func name[, label]|A function begins, for debuggers.
.endfunc|A function ends, for debuggers.
.fnstart|A function begins, for unwinding tables.
.fnend|A function ends: its unwinding table is complete.
.save {registers}|The registers that the code has pushed, for unwinding.
.vsave {registers}|The floating-point registers that the code has pushed, for unwinding.
.pad #bytes|How far the code has moved the stack, for unwinding.
.setfp register, sp[, #offset]|The register that holds the frame, for unwinding.
.movsp register[, #offset]|The register that holds the stack pointer's value, for unwinding.
.cantunwind|No unwinding goes through the function.
.personality name|The routine that reads the unwinding table.
.personalityindex number|The routine 0–2 of the ABI that reads the unwinding table.
.handlerdata|What follows are data for the unwinding routine.
.unwind_raw offset, byte, …|Bytes of the unwinding table as they are.
.pacspval|The authentication code takes the stack pointer's value, for unwinding.
.cfi_startproc [simple]|A procedure begins, for call frame information.
.cfi_endproc|A procedure ends, for call frame information.
.cfi_def_cfa register, offset|The frame's address is register plus offset.
.cfi_def_cfa_register register|The register that the frame's address counts from.
.cfi_def_cfa_offset offset|The offset that the frame's address has.
.cfi_adjust_cfa_offset offset|The offset of the frame's address grows by this.
.cfi_offset register, offset|The register is saved at an offset from the frame's address.
.cfi_rel_offset register, offset|The register is saved at an offset from the frame's register.
.cfi_val_offset register, offset|The register's value is the frame's address plus the offset.
.cfi_register register, register|The register is saved in another one.
.cfi_return_column register|The register with the return address.
.cfi_restore register, …|The registers have the values of the procedure's start again.
.cfi_undefined register, …|The registers' values are lost.
.cfi_same_value register, …|The registers have the caller's values.
.cfi_remember_state|Keeps the rules for .cfi_restore_state.
.cfi_restore_state|Back to the rules kept last.
.cfi_window_save|The register window is saved.
.cfi_negate_ra_state|The return address changes between signed and plain.
.cfi_escape byte, …|Bytes of call frame information as they are.
.cfi_sections section, …|The sections for call frame information.
.cfi_signal_frame|The frame is one of a signal handler.
.cfi_personality encoding, name|The personality routine.
.cfi_personality_id number|The personality routine by number.
.cfi_lsda encoding, name|The data for the personality routine.
.cfi_val_encoded_addr register, encoding, name|The register's value is an address.
.cfi_fde_data byte, …|Data of a compact unwinding table.
.cfi_inline_lsda [alignment]|Data for the personality routine follow.
.cfi_label name|A label in the call frame information.
.eabi_attribute tag, value|An attribute of the object file (ABI addenda, "Build attributes").
.gnu_attribute tag, value|An attribute of the object file.
.attach_to_group name|The section belongs to a group.
.reloc offset, type[, expression]|A relocation for the linker.
.tlsdescseq name|The instruction belongs to a sequence for thread-local storage.
.rel31 0|1, expression|A word with a bit and a distance of 31 bits.
.rva address, …|Words with addresses.
.vtable_inherit child, parent|A virtual table, for the linker to remove what is not used.
.vtable_entry table, offset|A use of a virtual table.
.bundle_align_mode power|Instructions do not cross multiples of 2 to the power.
.bundle_lock|What follows stays in one bundle.
.bundle_unlock|The end of what stays in one bundle.
.linkonce [discard|one_only|same_size|same_contents]|The linker keeps the section once.
.print "text"|Prints a text.
.title "text"|The title of listings.
.ttl "text"|The title of listings.
.sbttl "text"|The second title of listings.
.psize lines[, columns]|The size of listings.
.llen columns|The width of listings.
.plen lines|The length of listings.
.eject|A new page in listings.
.list|Listings go on.
.nolist|Listings pause.
.nops bytes[, most]|Instructions that do nothing; not for ARM.
.float16_format ieee|alternative|The format of 16-bit floating-point numbers.
.lsym name, value|Gives a name a value.
.addrsig|A table of the symbols whose addresses count, for linkers that fold code; not all assemblers have it.
.addrsig_sym name|The address of the symbol counts, for linkers that fold code; not all assemblers have it.
.asmfunc|A function begins, in another dialect.
.def name|Defines a name, in another dialect.
.ref name|Names a symbol of another file, in another dialect.
.endasmfunc|A function ends, in another dialect.
.mri 0|1|The dialect of another assembler.
.base64 "text", …|Bytes in base 64; newer assemblers have it.`

// ignoredDirectives are ignored, whatever is after them: assemblers ignore
// some, and of the others we look at nothing.
const ignoredDirectives = "debug format lflags name noformat nopage page spc xref"

// directives are those of directiveList by their names, which most sources need alone.
var directives = sync.OnceValue(func() map[string]*DirectiveInfo {
	out := make(map[string]*DirectiveInfo, len(directiveList))
	for i := range directiveList {
		out[directiveList[i].Name] = &directiveList[i]
	}
	return out
})

// allDirectives are all by their names.
var allDirectives = sync.OnceValue(func() map[string]*DirectiveInfo {
	out := maps.Clone(directives())
	for _, l := range strings.Split(strings.TrimSpace(checkedDirectives), "\n") {
		k := strings.LastIndexByte(l, '|')
		usage, doc := l[:k], l[k+1:]
		name, _, _ := strings.Cut(usage, " ")
		out[name] = &DirectiveInfo{Name: name, Args: ArgsText, Effect: EffCheck, Usage: usage, Doc: doc}
	}
	for _, name := range strings.Fields(ignoredDirectives) {
		if name = "." + name; out[name] == nil {
			out[name] = &DirectiveInfo{Name: name, Args: ArgsText, Usage: name + " …", Doc: "Known by name; assemblers ignore it."}
		}
	}
	// .dc, .dcb and .ds: data with the unit after the name.
	for suffix, n := range map[string]int{"": 2, ".b": 1, ".w": 2, ".l": 4, ".a": 4, ".s": 4, ".d": 8, ".x": 10, ".p": 12} {
		float := suffix == ".s" || suffix == ".d" || suffix == ".x"
		what := "Values of " + strconv.Itoa(n) + " bytes."
		if float {
			what = "Floating-point numbers of " + strconv.Itoa(n) + " bytes."
		}
		if suffix != ".p" {
			d := &DirectiveInfo{Name: ".dc" + suffix, Args: ArgsExprs, Effect: EffData, Unit: n, Usage: ".dc" + suffix + " value, …", Doc: what}
			if float {
				d.Args, d.Effect = ArgsText, EffFloat
			}
			out[d.Name] = d
			if suffix != ".a" {
				out[".dcb"+suffix] = &DirectiveInfo{Name: ".dcb" + suffix, Args: ArgsText, Effect: EffFillOf, Unit: n, Float: float, Usage: ".dcb" + suffix + " count, value", Doc: "A value of " + strconv.Itoa(n) + " bytes, so many times."}
			}
		}
		room := n
		if suffix == ".x" {
			room = 12
		}
		if suffix != ".a" {
			out[".ds"+suffix] = &DirectiveInfo{Name: ".ds" + suffix, Args: ArgsExprs, Effect: EffSpace, Unit: room, Usage: ".ds" + suffix + " count[, fill]", Doc: "Room for so many values of " + strconv.Itoa(room) + " bytes."}
		}
	}
	// The conditions.
	for _, c := range strings.Fields("ifdef ifndef ifnotdef ifb ifnb ifc ifnc ifeq ifne ifge ifgt ifle iflt ifeqs ifnes") {
		out["."+c] = &DirectiveInfo{Name: "." + c, Args: ArgsRaw, Effect: EffIf, Usage: "." + c + " …", Doc: "What follows is assembled when the condition holds."}
	}
	return out
})

func findDirective(name string) *DirectiveInfo {
	if d := directives()[name]; d != nil {
		return d
	}
	return allDirectives()[strings.ToLower(name)]
}

// FindDirective looks a directive up by its name with the dot, in any case;
// nil when nothing knows it.
func FindDirective(name string) *DirectiveInfo { return findDirective(name) }

// Directives lists all known directives, unsorted.
func Directives() []*DirectiveInfo {
	return slices.Collect(maps.Values(allDirectives()))
}
