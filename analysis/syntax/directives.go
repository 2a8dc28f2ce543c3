package syntax

import "strings"

// ArgStyle says how a directive's arguments are read.
type ArgStyle uint8

// The styles.
const (
	ArgsNone    ArgStyle = iota // none
	ArgsExprs                   // expressions, separated by commas
	ArgsStrings                 // strings
	ArgsSymbols                 // names, and expressions behind them
	ArgsText                    // any text, not looked into
	ArgsRaw                     // text that the analysis reads itself
)

// Effect is what a directive does to the layout and to the state.
type Effect uint8

// The effects. EffNone directives leave the size alone.
const (
	EffNone   Effect = iota
	EffData          // Unit bytes an argument
	EffString        // the strings' bytes, and Unit zero bytes behind each
	EffSpace
	EffFill
	EffOrg
	EffAlignPow  // to a power of two: .align n
	EffAlignByte // to n bytes: .balign n
	EffEven
	EffPool
	EffSection
	EffPush
	EffPop
	EffPrevious
	EffSet
	EffEqv
	EffGlobal
	EffExtern
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
	EffEndm
	EffRept
	EffEndr
	EffIf
	EffElseif
	EffElse
	EffEndif
	EffEnd
	EffComm
	EffType
	EffInst
	EffLEB
	EffStruct
	EffError
	EffSize
	EffExitm
	EffPurgem
	EffAltmacro // Unit 1: on, 0: off
)

// DirectiveInfo is the one description of a directive.
type DirectiveInfo struct {
	Name      string // with its dot
	Args      ArgStyle
	Effect    Effect
	Unit      int // bytes a value, for data
	Usage     string
	Doc       string // one sentence
	NameFirst bool   // "name .req register": the name stands before it
	Align     uint8  // what it aligns itself to in the column dialect, in bytes
}

var directiveList = []DirectiveInfo{
	{Name: ".thumb", Effect: EffThumb, Usage: ".thumb", Doc: "What follows is T16 (or T32) code."},
	{Name: ".arm", Effect: EffArm, Usage: ".arm", Doc: "What follows is A32 code; coming from T16, the place is aligned to 4 bytes."},
	{Name: ".code", Args: ArgsExprs, Effect: EffCode, Usage: ".code 16|32", Doc: "16: T16 code follows. 32: A32 code follows."},
	{Name: ".thumb_func", Args: ArgsSymbols, Effect: EffThumbFunc, Usage: ".thumb_func", Doc: "The next label is a T16 function: its address gets bit 0 set where a linker fills it in."},
	{Name: ".thumb_set", Args: ArgsSymbols, Effect: EffThumbSet, Usage: ".thumb_set name, value", Doc: "As .set, and marks the name as a T16 function."},
	{Name: ".syntax", Args: ArgsSymbols, Effect: EffSyntax, Usage: ".syntax unified|divided", Doc: "The spelling of instructions: unified writes adds where flags change, divided (the older one) writes add."},
	{Name: ".cpu", Args: ArgsRaw, Effect: EffCPU, Usage: ".cpu name", Doc: "The core; decides which instructions exist."},
	{Name: ".arch", Args: ArgsRaw, Effect: EffArch, Usage: ".arch name", Doc: "The architecture; decides which instructions exist."},
	{Name: ".arch_extension", Args: ArgsRaw, Effect: EffArchExt, Usage: ".arch_extension name", Doc: "Adds an extension to the architecture."},
	{Name: ".object_arch", Args: ArgsRaw, Usage: ".object_arch name", Doc: "The architecture recorded in the object file."},
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
	{Name: ".octa", Args: ArgsText, Effect: EffData, Unit: 16, Usage: ".octa value, …", Doc: "Values of 16 bytes."},
	{Name: ".float", Args: ArgsText, Effect: EffData, Unit: 4, Usage: ".float value, …", Doc: "Floating-point numbers of 4 bytes."},
	{Name: ".single", Args: ArgsText, Effect: EffData, Unit: 4, Usage: ".single value, …", Doc: "Floating-point numbers of 4 bytes."},
	{Name: ".double", Args: ArgsText, Effect: EffData, Unit: 8, Usage: ".double value, …", Doc: "Floating-point numbers of 8 bytes."},
	{Name: ".float16", Args: ArgsText, Effect: EffData, Unit: 2, Usage: ".float16 value, …", Doc: "Floating-point numbers of 2 bytes."},
	{Name: ".ascii", Args: ArgsStrings, Effect: EffString, Usage: ".ascii \"text\", …", Doc: "The bytes of the strings."},
	{Name: ".asciz", Args: ArgsStrings, Effect: EffString, Unit: 1, Usage: ".asciz \"text\", …", Doc: "The bytes of the strings, a zero byte behind each."},
	{Name: ".string", Args: ArgsStrings, Effect: EffString, Unit: 1, Usage: ".string \"text\", …", Doc: "The bytes of the strings, a zero byte behind each."},
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
	{Name: ".ltorg", Effect: EffPool, Usage: ".ltorg", Doc: "The literal pool stands here: the words that ldr rX, =value asked for since the last pool."},
	{Name: ".pool", Effect: EffPool, Usage: ".pool", Doc: "The literal pool stands here: the words that ldr rX, =value asked for since the last pool."},
	{Name: ".inst", Args: ArgsExprs, Effect: EffInst, Usage: ".inst code, …", Doc: "Machine code given as numbers."},
	{Name: ".inst.n", Args: ArgsExprs, Effect: EffInst, Unit: 2, Usage: ".inst.n code, …", Doc: "16-bit machine code given as numbers."},
	{Name: ".inst.w", Args: ArgsExprs, Effect: EffInst, Unit: 4, Usage: ".inst.w code, …", Doc: "32-bit machine code given as numbers."},
	{Name: ".uleb128", Args: ArgsExprs, Effect: EffLEB, Usage: ".uleb128 value, …", Doc: "Unsigned numbers of variable length."},
	{Name: ".sleb128", Args: ArgsExprs, Effect: EffLEB, Usage: ".sleb128 value, …", Doc: "Signed numbers of variable length."},

	{Name: ".text", Args: ArgsExprs, Effect: EffSection, Usage: ".text [subsection]", Doc: "Goes on in the section .text."},
	{Name: ".data", Args: ArgsExprs, Effect: EffSection, Usage: ".data [subsection]", Doc: "Goes on in the section .data."},
	{Name: ".bss", Args: ArgsExprs, Effect: EffSection, Usage: ".bss [subsection]", Doc: "Goes on in the section .bss, which holds no bytes in the file."},
	{Name: ".rodata", Args: ArgsExprs, Effect: EffSection, Usage: ".rodata", Doc: "Goes on in the section .rodata."},
	{Name: ".section", Args: ArgsRaw, Effect: EffSection, Usage: ".section name[, \"flags\"[, %type]]", Doc: "Goes on in the named section."},
	{Name: ".pushsection", Args: ArgsRaw, Effect: EffPush, Usage: ".pushsection name", Doc: "As .section, and remembers the present one."},
	{Name: ".popsection", Effect: EffPop, Usage: ".popsection", Doc: "Back to the section before .pushsection."},
	{Name: ".previous", Effect: EffPrevious, Usage: ".previous", Doc: "Back to the section before this one."},
	{Name: ".subsection", Args: ArgsExprs, Usage: ".subsection number", Doc: "A part of the section, ordered by number."},
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
	{Name: ".weak", Args: ArgsSymbols, Effect: EffGlobal, Usage: ".weak name, …", Doc: "The names may be missing, or replaced by others at link time."},
	{Name: ".extern", Args: ArgsSymbols, Effect: EffExtern, Usage: ".extern name, …", Doc: "The names are defined in another file."},
	{Name: ".comm", Args: ArgsSymbols, Effect: EffComm, Usage: ".comm name, size[, alignment]", Doc: "Common storage that the linker lays out."},
	{Name: ".lcomm", Args: ArgsSymbols, Effect: EffComm, Usage: ".lcomm name, size[, alignment]", Doc: "Storage in .bss."},
	{Name: ".type", Args: ArgsRaw, Effect: EffType, Usage: ".type name, %function|%object", Doc: "What the symbol names; a %function in T16 code gets bit 0 set where a linker fills it in."},
	{Name: ".size", Args: ArgsSymbols, Effect: EffSize, Usage: ".size name, size", Doc: "The size of what a symbol names."},

	{Name: ".include", Args: ArgsStrings, Effect: EffInclude, Usage: ".include \"file\"", Doc: "The text of another file."},
	{Name: ".incbin", Args: ArgsExprs, Effect: EffIncbin, Usage: ".incbin \"file\"[, skip[, count]]", Doc: "The bytes of another file."},
	{Name: ".macro", Args: ArgsRaw, Effect: EffMacro, Usage: ".macro name [parameter[:req|:vararg][=default], …]", Doc: "Starts the definition of a macro; it ends at .endm. \\name puts an argument in, \\@ the number of the call, \\() separates."},
	{Name: ".endm", Args: ArgsText, Effect: EffEndm, Usage: ".endm", Doc: "Ends the definition of a macro."},
	{Name: ".exitm", Args: ArgsText, Effect: EffExitm, Usage: ".exitm", Doc: "Leaves the expansion of a macro, or a repetition."},
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
	{Name: ".endif", Args: ArgsText, Effect: EffEndif, Usage: ".endif", Doc: "Ends a conditional part."},
	{Name: ".end", Effect: EffEnd, Usage: ".end", Doc: "The source ends here."},
	{Name: ".err", Effect: EffError, Usage: ".err", Doc: "Stops the assembly."},
	{Name: ".error", Args: ArgsStrings, Effect: EffError, Usage: ".error \"text\"", Doc: "Stops the assembly with a message."},
	{Name: ".warning", Args: ArgsStrings, Usage: ".warning \"text\"", Doc: "Gives a message."},
}

// known has the directives that change neither size nor state for us: name,
// then what they are about.
const knownDirectives = `
hidden|visibility internal|visibility protected|visibility local|visibility weakref|symbols symver|symbols version|notes ident|notes
file|debugging loc|debugging loc_mark_labels|debugging line|debugging ln|debugging stabs|debugging stabn|debugging stabd|debugging def|debugging endef|debugging dim|debugging scl|debugging tag|debugging val|debugging desc|debugging
fnstart|unwinding fnend|unwinding save|unwinding vsave|unwinding pad|unwinding setfp|unwinding movsp|unwinding cantunwind|unwinding personality|unwinding personalityindex|unwinding handlerdata|unwinding unwind_raw|unwinding pacspval|unwinding
cfi_startproc|unwinding cfi_endproc|unwinding cfi_def_cfa|unwinding cfi_def_cfa_register|unwinding cfi_def_cfa_offset|unwinding cfi_adjust_cfa_offset|unwinding cfi_offset|unwinding cfi_rel_offset|unwinding cfi_register|unwinding cfi_return_column|unwinding cfi_restore|unwinding cfi_undefined|unwinding cfi_same_value|unwinding cfi_remember_state|unwinding cfi_restore_state|unwinding cfi_window_save|unwinding cfi_escape|unwinding cfi_sections|unwinding cfi_signal_frame|unwinding cfi_personality|unwinding cfi_personality_id|unwinding cfi_lsda|unwinding cfi_val_encoded_addr|unwinding cfi_val_offset|unwinding cfi_fde_data|unwinding cfi_inline_lsda|unwinding cfi_label|unwinding
eabi_attribute|attributes gnu_attribute|attributes attribute|attributes tlsdescseq|relocation reloc|relocation
list|listing nolist|listing title|listing sbttl|listing psize|listing eject|listing print|messages nop|layout nops|layout
func|debugging endfunc|debugging vtable_inherit|symbols vtable_entry|symbols symver|symbols linkonce|sections bundle_align_mode|layout bundle_lock|layout bundle_unlock|layout
abort|messages fail|messages lflags|listing noformat|listing lto_discard|symbols dc|data ds|data dcb|data even|layout secrel32|relocation xdef|symbols xref|symbols xcom|symbols xstabs|debugging appfile|debugging appline|debugging nobound|layout mri|dialects loc_view|debugging base64|data pe_aligncomm|symbols asmfunc|debugging endasmfunc|debugging`

var directives = func() map[string]*DirectiveInfo {
	out := make(map[string]*DirectiveInfo, 256)
	for i := range directiveList {
		out[directiveList[i].Name] = &directiveList[i]
	}
	for _, w := range strings.Fields(knownDirectives) {
		name, about, _ := strings.Cut(w, "|")
		name = "." + name
		if out[name] == nil {
			out[name] = &DirectiveInfo{Name: name, Args: ArgsText, Usage: name + " …", Doc: "About " + about + "; known by name."}
		}
	}
	// .dc and its kin: data with the unit behind the name.
	for suffix, n := range map[string]int{"": 2, ".b": 1, ".w": 2, ".l": 4, ".a": 4} {
		out[".dc"+suffix] = &DirectiveInfo{Name: ".dc" + suffix, Args: ArgsExprs, Effect: EffData, Unit: n, Usage: ".dc" + suffix + " value, …", Doc: "Values of " + string(rune('0'+n)) + " bytes."}
		if suffix != ".a" {
			out[".ds"+suffix] = &DirectiveInfo{Name: ".ds" + suffix, Args: ArgsExprs, Effect: EffFill, Unit: n, Usage: ".ds" + suffix + " count[, fill]", Doc: "So many values of " + string(rune('0'+n)) + " bytes."}
		}
	}
	// The conditions.
	for _, c := range strings.Fields("ifdef ifndef ifnotdef ifb ifnb ifc ifnc ifeq ifne ifge ifgt ifle iflt ifeqs ifnes") {
		out["."+c] = &DirectiveInfo{Name: "." + c, Args: ArgsRaw, Effect: EffIf, Usage: "." + c + " …", Doc: "What follows is assembled when the condition holds."}
	}
	return out
}()

func findDirective(name string) *DirectiveInfo {
	if d := directives[name]; d != nil {
		return d
	}
	for i := 0; i < len(name); i++ {
		if c := name[i]; c >= 'A' && c <= 'Z' {
			return directives[strings.ToLower(name)]
		}
	}
	return nil
}

// FindDirective looks a directive up by its name with the dot, in any case;
// nil when nothing knows it.
func FindDirective(name string) *DirectiveInfo { return findDirective(name) }

// Directives lists all known directives, unsorted.
func Directives() []*DirectiveInfo {
	out := make([]*DirectiveInfo, 0, len(directives))
	for _, d := range directives {
		out = append(out, d)
	}
	return out
}
