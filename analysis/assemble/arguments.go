package assemble

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// args reads the arguments of a directive whose text the parser leaves alone. The
// text is what the assembler keeps of it: blanks are only where they matter.
type args struct {
	pass      *pass
	item      *program.Item
	directive *syntax.DirectiveInfo
	src       string
	i         int
	failed    bool
	open      bool // the last text has no closing quote
}

func (p *pass) arguments(it *program.Item, l *syntax.Line) *args {
	src := ""
	if it.Stmt.Directive.Name == ".symver" { // where '@' begins no comment
		src, _ = l.Text[it.Stmt.NameEnd:], 0
	} else {
		src = it.Stmt.Reduced(l)
	}
	if i := strings.IndexByte(src, ';'); i >= 0 && !strings.Contains(src[:i], `"`) {
		src = src[:i]
	}
	return &args{pass: p, item: it, directive: it.Stmt.Directive, src: strings.TrimSpace(src)}
}

// fail reports the directive, once.
func (a *args) fail(m string) {
	if !a.failed {
		a.pass.Report(a.pass.StmtLoc(a.item), finding.CodeDirective, m)
	}
	a.failed = true
}

// shape reports that the arguments are not what the directive takes.
func (a *args) shape() {
	if !a.failed {
		a.fail(wording.Written(a.directive.Usage))
	}
}

func (a *args) skip() {
	for a.i < len(a.src) && (a.src[a.i] == ' ' || a.src[a.i] == '\t') {
		a.i++
	}
}

// peek is the next byte that is not a blank, 0 at the end.
func (a *args) peek() byte {
	a.skip()
	if a.i >= len(a.src) {
		return 0
	}
	return a.src[a.i]
}

func (a *args) eat(c byte) bool {
	if a.peek() == c {
		a.i++
		return true
	}
	return false
}

func (a *args) digit() bool { c := a.peek(); return c >= '0' && c <= '9' }

// end says that nothing may be after.
func (a *args) end() bool {
	if a.peek() != 0 {
		if a.i == 0 {
			a.fail(wording.TakesNothing(a.directive.Name))
		} else {
			a.shape()
		}
	}
	return !a.failed
}

// isName says whether a byte may be in a symbol's name.
func isName(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_' || c == '.' || c == '$' || c >= 0x80
}

// name reads a symbol's name; "" where none is.
func (a *args) name() string {
	if a.peek() == '"' {
		s, _ := a.text()
		return s
	}
	b := a.i
	if a.digit() {
		return ""
	}
	for a.i < len(a.src) && isName(a.src[a.i]) {
		a.i++
	}
	return a.src[b:a.i]
}

// comma reads a comma, which has to be there.
func (a *args) comma() {
	if !a.failed && !a.eat(',') {
		a.shape()
	}
}

// each reads one or more of the same kind, with commas between them.
func (a *args) each(read func()) {
	for {
		read()
		if a.failed || !a.eat(',') {
			return
		}
	}
}

// register reads a name in front of which a register's mark may be.
func (a *args) register() string {
	a.eat('%')
	return a.name()
}

// symbol reads a name that has to be there.
func (a *args) symbol() string {
	n := a.name()
	if n == "" {
		a.shape()
	}
	return n
}

// text reads a string in double quotes.
func (a *args) text() (string, bool) {
	if a.peek() != '"' {
		a.shape()
		return "", false
	}
	b := a.i
	for a.i++; a.i < len(a.src) && a.src[a.i] != '"'; a.i++ {
		if a.src[a.i] == '\\' {
			a.i++
		}
	}
	if a.i >= len(a.src) {
		a.i, a.open = len(a.src), true
		return a.src[b+1:], true
	}
	a.i++
	return a.src[b+1 : a.i-1], true
}

// value reads an expression; given is false where none is.
func (a *args) value() (v program.Value, given bool) {
	a.skip()
	o, n, err := syntax.Value(a.src[a.i:])
	a.i += n
	if err != nil {
		a.fail(wording.ExpectedValue(err.Message))
		return program.Value{Kind: program.Bad}, true
	}
	if o.Kind == isa.OpNone {
		return program.Value{Kind: program.Number}, false
	}
	return a.pass.Value(&o, a.item), true
}

// number reads a number that is known now; where none is, it is 0.
func (a *args) number() (int64, bool) {
	v, given := a.value()
	if a.failed {
		return 0, false
	}
	if v.Kind != program.Number {
		if v.Kind != program.Unknown {
			a.fail(wording.NeedsKnownNumber(a.directive.Name))
		}
		return 0, false
	}
	return v.N, given
}

// given is number for one that has to be there.
func (a *args) given() (int64, bool) {
	n, ok := a.number()
	if !ok {
		a.shape()
	}
	return n, ok
}

// core reads a core register; NoReg where none is.
func (a *args) core() isa.Reg {
	b := a.i
	n := a.register()
	if r, ok := isa.RegByName(strings.ToLower(n)); ok && (n == strings.ToLower(n) || n == strings.ToUpper(n)) {
		return r
	}
	if r, ok := a.pass.Alias(n); ok {
		return r
	}
	a.i = b
	return isa.NoReg
}

// checkArguments looks at the arguments of a directive that does nothing else.
func (p *pass) checkArguments(it *program.Item, l *syntax.Line) {
	a := p.arguments(it, l)
	if strings.HasPrefix(a.directive.Name, ".cfi_") {
		p.frameInfo(a)
		return
	}
	argumentsOnce.Do(fillArguments)
	if f := argumentChecks[a.directive.Name]; f != nil {
		f(a)
	}
}

// argumentChecks has the checks by the directive's name, once they are filled in.
var (
	argumentChecks map[string]func(a *args)
	argumentsOnce  sync.Once
)

func fillArguments() {
	argumentChecks = map[string]func(a *args){
		".hidden": (*args).symbolVisibility, ".internal": (*args).symbolVisibility, ".protected": (*args).symbolVisibility, ".local": (*args).symbolVisibility,
		".weakref": (*args).weakref, ".symver": (*args).symver,
		".version": (*args).oneText,
		".ident":   (*args).ident,
		".file":    (*args).file, ".loc": (*args).loc, ".linefile": (*args).anything,
		".line":            (*args).oneNumber,
		".loc_mark_labels": (*args).markLabels,
		".stabs":           func(a *args) { a.stab(5) }, ".stabn": func(a *args) { a.stab(4) }, ".stabd": func(a *args) { a.stab(3) },
		".func": (*args).debugFunc, ".endfunc": (*args).debugEndfunc,
		".fnstart": (*args).fnstart, ".fnend": (*args).fnend, ".save": (*args).save, ".vsave": (*args).save, ".pad": (*args).pad,
		".setfp": (*args).setfp, ".movsp": (*args).movsp, ".cantunwind": (*args).cantunwind, ".personality": (*args).personality,
		".personalityindex": (*args).personalityIndex, ".handlerdata": (*args).handlerdata, ".unwind_raw": (*args).unwindRaw, ".pacspval": (*args).pacspval,
		".eabi_attribute": (*args).attribute, ".gnu_attribute": (*args).attribute,
		".attach_to_group": (*args).oneSymbol, ".addrsig": (*args).nothing, ".addrsig_sym": (*args).oneSymbol,
		".reloc":      (*args).reloc,
		".tlsdescseq": (*args).oneSymbol,
		".rel31":      (*args).rel31, ".rva": (*args).address32,
		".vtable_inherit": (*args).vtableInherit, ".vtable_entry": (*args).vtableEntry,
		".bundle_align_mode": (*args).bundleMode, ".bundle_lock": (*args).bundleLock, ".bundle_unlock": (*args).bundleUnlock,
		".linkonce": (*args).linkOnce,
		".print":    (*args).oneText, ".warning": (*args).warning, ".title": (*args).anything, ".ttl": (*args).anything, ".sbttl": (*args).anything,
		".psize": (*args).psize, ".llen": (*args).listingWidth, ".plen": (*args).listingWidth,
		".eject": (*args).nothing, ".list": (*args).nothing, ".nolist": (*args).nothing,
		".nops":           (*args).nops,
		".float16_format": (*args).floatFormat,
		".lsym":           (*args).debugSymbol,
		".asmfunc":        (*args).otherSystem, ".endasmfunc": (*args).otherSystem, ".def": (*args).otherSystem, ".ref": (*args).otherSystem,
		".mri":         (*args).oneNumber,
		".base64":      (*args).notForCore,
		".object_arch": (*args).objectArch,
	}
}

// symbolVisibility reads the symbols of .hidden and its relatives.
func (a *args) symbolVisibility() {
	for {
		n := a.symbol()
		if a.failed {
			return
		}
		if y := a.pass.Symbol(n); a.directive.Name == ".local" {
			y.Local = true
		}
		if !a.eat(',') {
			break
		}
		if a.peek() == 0 {
			return
		}
	}
	a.end()
}

// oneSymbol reads one symbol and nothing else.
func (a *args) oneSymbol() {
	if a.symbol() != "" {
		a.end()
	}
}

// oneText reads one text in quotes and nothing else.
func (a *args) oneText() {
	if _, ok := a.text(); ok {
		a.end()
	}
}

// otherSystem reports a directive that only an option of the assembler brings.
func (a *args) otherSystem() {
	a.fail(wording.OptionOnly(a.directive.Name))
}

// notForCore reports a directive of another machine.
func (a *args) notForCore() {
	a.fail(wording.NotForCore(a.directive.Name))
}

// listingWidth reads the size of a page of the listing.
func (a *args) listingWidth() {
	if a.peek() == 0 {
		if a.directive.Name == ".llen" {
			a.shape()
		}
		return
	}
	v, _ := a.value()
	switch {
	case v.Kind != program.Number && !a.failed:
		a.fail(wording.NeedsKnownNumber(a.directive.Name))
	case v.N < 8 && a.directive.Name == ".llen":
		a.fail(wording.NeedsColumns(".llen"))
	}
	a.end()
}

// nothing reads no arguments.
func (a *args) nothing() { a.end() }

// anything takes all arguments.
func (a *args) anything() {}

// markLabels reads .loc_mark_labels.
func (a *args) markLabels() {
	if n, ok := a.number(); ok && n != 0 && n != 1 {
		a.fail(wording.ZeroOrOne(".loc_mark_labels"))
	}
	a.end()
}

// address32 reads .rva, which only another system has.
func (a *args) address32() {
	if a.peek() != 0 {
		a.notForCore()
	}
}

// linkOnce reads .linkonce.
func (a *args) linkOnce() {
	a.name()
	a.end()
}

// debugSymbol reads .lsym.
func (a *args) debugSymbol() {
	n := a.symbol()
	if a.failed || !a.eat(',') {
		a.shape()
		return
	}
	v, given := a.value()
	if !given || v.Kind != program.Number {
		a.fail(wording.NeedsKnownValue(".lsym"))
	}
	if a.end() {
		y := a.pass.Symbol(n)
		y.Defined, y.Kind, y.Value, y.Item, y.Columns = true, program.SymConstant, v, a.item.Index, stmtColumns(a.item)
		a.pass.Gen++
	}
}

// oneNumber reads one number and nothing else.
func (a *args) oneNumber() {
	a.number()
	a.end()
}

func (a *args) weakref() {
	alias := a.symbol()
	if a.failed || !a.eat(',') {
		a.shape()
		return
	}
	target := a.symbol()
	if a.failed {
		return
	}
	y := a.pass.Symbol(alias)
	if y.Refers != "" || y.Defined && (y.Label || y.Once) {
		a.fail(wording.DefinedNoAlias(alias))
		return
	}
	for t, n := target, 0; t != "" && n < 1000; n++ {
		if t == alias {
			a.fail(wording.AliasOfItself(alias))
			return
		}
		t = a.pass.Symbol(t).Refers
	}
	y.Refers = target
	y.Extern = true
	a.end()
}

func (a *args) symver() {
	name := a.symbol()
	if a.failed || !a.eat(',') {
		a.shape()
		return
	}
	a.skip()
	b := a.i
	for a.i < len(a.src) && (isName(a.src[a.i]) || a.src[a.i] == '@') {
		a.i++
	}
	v := a.src[b:a.i]
	if !strings.Contains(v, "@") {
		a.fail(wording.NeedsVersion())
		return
	}
	if a.eat(',') {
		switch a.name() {
		case "local", "hidden", "remove":
		default:
			a.shape()
			return
		}
	}
	if a.end() && strings.Count(v, "@") == 2 {
		a.pass.symvers = append(a.pass.symvers, symver{a.item.Index, name, v})
	}
}

// symver is a .symver that gives the version meant by default, for which the name
// has to be defined.
type symver struct {
	item          int32
	name, version string
}

func (a *args) ident() {
	if a.peek() == 0 {
		return
	}
	for {
		if _, ok := a.text(); !ok {
			return
		}
		if !a.eat(',') && a.peek() != '"' {
			break
		}
	}
	a.end()
}

func (a *args) warning() {
	if a.peek() == 0 {
		return
	}
	if _, ok := a.text(); ok {
		a.end()
	}
}

func (a *args) file() {
	if a.digit() || a.peek() == '-' || a.peek() == '(' {
		n, ok := a.number()
		if !ok {
			a.shape()
			return
		}
		if n < 0 {
			a.fail(wording.NeedsFileNumber())
			return
		}
		if _, ok := a.text(); !ok {
			return
		}
		if n == 0 {
			a.pass.folders = true
		}
		if a.pass.folders && a.peek() == '"' {
			a.text()
		}
		if a.skip(); a.pass.folders && strings.HasPrefix(a.src[a.i:], "md5") {
			a.i += 3
			a.skip()
			b := a.i
			for a.i < len(a.src) && isName(a.src[a.i]) {
				a.i++
			}
			if digits, ok := strings.CutPrefix(a.src[b:a.i], "0x"); !ok || len(strings.TrimLeft(digits, "0")) <= 20 {
				a.fail(wording.NeedsDigest())
			}
		}
		if a.pass.files == nil {
			a.pass.files = map[int64]bool{}
		}
		given := a.pass.files[n]
		a.pass.files[n] = true // even if something more is there
		if a.end() && given {
			a.fail(wording.FileNumberTaken(n))
		}
		return
	}
	if _, ok := a.text(); ok {
		a.end()
	}
}

func (a *args) loc() {
	n, ok := a.number()
	if !ok && !a.failed {
		a.shape()
	}
	if a.failed {
		return
	}
	if !a.pass.files[n] {
		a.fail(wording.NoFileNumber(n))
		return
	}
	a.number()
	if a.digit() {
		a.number()
	}
	for a.peek() != 0 && !a.failed {
		switch a.name() {
		case "basic_block", "prologue_end", "epilogue_begin":
		case "is_stmt":
			if v, _ := a.number(); v != 0 && v != 1 {
				a.fail(wording.ZeroOrOne("is_stmt"))
			}
		case "isa", "discriminator":
			if v, _ := a.number(); v < 0 {
				a.fail(wording.NeedsNotNegative())
			}
		case "view":
			if a.eat('-') || a.digit() {
				a.number()
			} else if name := a.symbol(); name != "" {
				a.view(name)
			}
		default:
			a.shape()
		}
	}
}

// view names the number by which .loc tells apart what is at one address. The
// assembler counts it, and nothing here needs to know how far.
func (a *args) view(name string) {
	s, fresh := a.pass.defining(name)
	switch {
	case s.Defined && (s.Label || s.Value.Kind != program.Unknown):
		a.fail(wording.AlreadyDefined(name))
		return
	case !fresh:
		a.pass.Gen++
	}
	s.Defined, s.Kind, s.Value, s.Item, s.Columns = true, program.SymConstant, program.Value{Kind: program.Unknown}, a.item.Index, stmtColumns(a.item)
}

// stab reads the fields of a debugging record: n of them, the first a text if
// there are five.
func (a *args) stab(n int) {
	if n == 5 {
		if _, ok := a.text(); !ok {
			return
		}
		if !a.eat(',') {
			return // assemblers warn and go on
		}
		n--
	}
	for i := range n {
		if i > 0 && !a.eat(',') {
			return
		}
		a.value()
	}
	a.end()
}

func (a *args) debugFunc() {
	if a.pass.inFunc {
		a.fail(wording.StillOpen(".func", ".endfunc"))
		return
	}
	a.name()
	if a.eat(',') {
		a.name()
	}
	a.pass.inFunc = true
	a.end()
}

func (a *args) debugEndfunc() {
	if !a.pass.inFunc {
		a.fail(wording.HasNone(".endfunc", ".func"))
		return
	}
	a.pass.inFunc = false
	a.end()
}

// reloc reads .reloc offset, type[, expression].
func (a *args) reloc() {
	v, given := a.value()
	if a.failed {
		return
	}
	switch {
	case !given || v.Kind == program.Bad || v.Kind == program.Undefined && v.Mixed:
		a.fail(wording.NeedsOffset(".reloc"))
		return
	case v.Kind == program.Number && v.N < 0:
		a.fail(wording.NeedsForwardOffset())
		return
	}
	if !a.eat(',') {
		a.shape()
		return
	}
	b := a.i
	name := a.name()
	if name == "" || !relocName(name) {
		a.i = b
		if name == "" {
			name = "this"
		}
		a.fail(wording.NoRelocationType(name))
		return
	}
	if a.eat(',') {
		a.value()
	}
	if a.end() {
		a.pass.relocs = append(a.pass.relocs, placed{a.item.Index, v})
	}
}

// placed is a value that is looked at when all places are known.
type placed struct {
	item int32
	val  program.Value
}

// relocNames are the names of relocations of the ELF for the Arm architecture (AAELF32,
// "Relocation codes table"), and others that the assembler takes.
var relocNames = sync.OnceValue(func() map[string]bool {
	m := map[string]bool{}
	for _, n := range strings.Fields("NONE PC24 ABS32 REL32 LDR_PC_G0 ABS16 ABS12 THM_ABS5 ABS8 SBREL32 THM_CALL THM_PC8 BREL_ADJ TLS_DESC THM_SWI8 XPC25 THM_XPC22 TLS_DTPMOD32 TLS_DTPOFF32 TLS_TPOFF32 COPY GLOB_DAT JUMP_SLOT RELATIVE GOTOFF32 GOTPC GOT32 GOT_BREL BASE_PREL PLT32 CALL JUMP24 THM_JUMP24 BASE_ABS ALU_PCREL_7_0 ALU_PCREL_15_8 ALU_PCREL_23_15 LDR_SBREL_11_0 ALU_SBREL_19_12 ALU_SBREL_27_20 TARGET1 SBREL31 ROSEGREL32 V4BX TARGET2 PREL31 MOVW_ABS_NC MOVT_ABS MOVW_PREL_NC MOVT_PREL THM_MOVW_ABS_NC THM_MOVT_ABS THM_MOVW_PREL_NC THM_MOVT_PREL THM_JUMP19 THM_JUMP6 THM_ALU_PREL_11_0 THM_PC12 ABS32_NOI REL32_NOI ALU_PC_G0_NC ALU_PC_G0 ALU_PC_G1_NC ALU_PC_G1 ALU_PC_G2 LDR_PC_G1 LDR_PC_G2 LDRS_PC_G0 LDRS_PC_G1 LDRS_PC_G2 LDC_PC_G0 LDC_PC_G1 LDC_PC_G2 ALU_SB_G0_NC ALU_SB_G0 ALU_SB_G1_NC ALU_SB_G1 ALU_SB_G2 LDR_SB_G0 LDR_SB_G1 LDR_SB_G2 LDRS_SB_G0 LDRS_SB_G1 LDRS_SB_G2 LDC_SB_G0 LDC_SB_G1 LDC_SB_G2 MOVW_BREL_NC MOVT_BREL MOVW_BREL THM_MOVW_BREL_NC THM_MOVT_BREL THM_MOVW_BREL TLS_GOTDESC TLS_CALL TLS_DESCSEQ THM_TLS_CALL PLT32_ABS GOT_ABS GOT_PREL GOT_BREL12 GOTOFF12 GOTRELAX GNU_VTENTRY GNU_VTINHERIT THM_JUMP11 THM_JUMP8 TLS_GD32 TLS_LDM32 TLS_LDO32 TLS_IE32 TLS_LE32 TLS_LDO12 TLS_LE12 TLS_IE12GP THM_TLS_DESCSEQ THM_ALU_ABS_G0_NC THM_ALU_ABS_G1_NC THM_ALU_ABS_G2_NC THM_ALU_ABS_G3 THM_BF16 THM_BF12 THM_BF18 IRELATIVE GOTFUNCDESC GOTOFFFUNCDESC FUNCDESC FUNCDESC_VALUE TLS_GD32_FDPIC TLS_LDM32_FDPIC TLS_IE32_FDPIC RREL32 RABS32 RPC24 RBASE THM_RPC22 RXPC25 THM_XPC25 THM_PC22 THM_PC11 THM_PC9 THM_SWI8 THM_PC8 AMP_VCALL9 SWI24 SBREL31 RELATIVE GOTOFF PLT32") {
		m["R_ARM_"+n] = true
	}
	for _, n := range strings.Fields("NONE 8 16 32 64 24 8_PCREL 16_PCREL 32_PCREL") {
		m["BFD_RELOC_"+n] = true
	}
	return m
})

func relocName(n string) bool {
	u := strings.ToUpper(n)
	return relocNames()[u] || strings.HasPrefix(u, "BFD_RELOC_ARM_") || strings.HasPrefix(u, "BFD_RELOC_THUMB_")
}

func (a *args) rel31() {
	c := byte(0)
	if a.peek() == '0' || a.peek() == '1' {
		c = a.src[a.i]
		a.i++
	}
	if c == 0 || !a.eat(',') {
		a.shape()
		return
	}
	if _, given := a.value(); !given && !a.failed {
		a.shape()
	}
	a.end()
	a.grow(4)
}

// grow gives the directive a size.
func (a *args) grow(n int64) {
	a.item.Size = n
	a.pass.Sections[a.pass.currentSection].Size += n
}

func (a *args) vtableInherit() {
	child := a.symbol()
	if a.failed {
		return
	}
	if y := a.pass.Find(child); y == nil || !y.Defined {
		a.fail(wording.InheritAfter(child))
		return
	}
	if !a.eat(',') {
		a.shape()
		return
	}
	if a.peek() == '0' {
		a.i++
	} else if a.symbol() == "" {
		return
	}
	a.end()
}

func (a *args) vtableEntry() {
	if a.symbol() == "" {
		return
	}
	if !a.eat(',') {
		a.shape()
		return
	}
	a.number()
	a.end()
}

func (a *args) bundleMode() {
	n, _ := a.number()
	if !a.failed && (n < 0 || n > 30) {
		a.pass.Warn(a.pass.StmtLoc(a.item), finding.CodeDirective, wording.BundlePowers())
		n = min(max(n, 0), 30)
	}
	if a.end() {
		if a.pass.bundleOpen > 0 {
			a.fail(wording.BundleLocked())
			return
		}
		a.pass.bundle = n
	}
}

func (a *args) bundleLock() {
	a.end()
	if a.pass.bundle == 0 {
		a.fail(wording.NeedsBundleSize(".bundle_lock"))
		return
	}
	a.pass.bundleOpen++
	a.pass.bundleItem = a.item.Index
}

func (a *args) bundleUnlock() {
	if !a.end() {
		return
	}
	switch {
	case a.pass.bundle == 0:
		a.fail(wording.NeedsBundleSize(".bundle_unlock"))
	case a.pass.bundleOpen == 0:
		a.fail(wording.HasNone(".bundle_unlock", ".bundle_lock"))
	default:
		a.pass.bundleOpen--
	}
}

func (a *args) psize() {
	n, ok := a.number()
	if !ok && !a.failed && a.peek() == 0 {
		return
	}
	_ = n
	if a.eat(',') {
		if w, _ := a.number(); !a.failed && w < 8 {
			a.fail(wording.NeedsColumns(".psize"))
		}
	}
	a.end()
}

func (a *args) nops() {
	n, given := a.number()
	if a.failed {
		return
	}
	if a.eat(',') {
		a.number()
	}
	if a.end() && given && n > 0 {
		a.fail(wording.NoNops())
	}
}

func (a *args) floatFormat() {
	n := a.name()
	if n != "ieee" && n != "alternative" {
		a.shape()
		return
	}
	if f := a.pass.floatFormat; f != "" && f != n {
		a.pass.Warn(a.pass.StmtLoc(a.item), finding.CodeDirective, wording.FloatFormatTaken(f))
		return
	}
	a.pass.floatFormat = n
}

func (a *args) objectArch() {
	name := a.src
	e := a.pass.current
	if name == "" || name == "all" || strings.Contains(name, "+") || !e.Selection.SelectArch(name) {
		if name == "" {
			a.fail(wording.NeedsName(a.directive.Name))
			return
		}
		a.fail(wording.NoTarget(syntax.EffArch, name, a.pass.nearTargets(name, isa.ArchNames)))
	}
}

// nearTargets are names near to one that a directive does not take, of the first ones of a
// program. There is no target all but in the settings.
func (p *pass) nearTargets(name string, names func() []string) []string {
	if !p.RoomForNear() {
		return nil
	}
	return finding.Near(name, slices.DeleteFunc(names(), func(n string) bool { return n == "all" }))
}

// attributeTags are the tags of build attributes (ABI addenda, "Public tags"), with
// their numbers.
var attributeTags = sync.OnceValue(func() map[string]int64 {
	m := map[string]int64{}
	for _, f := range strings.Fields("CPU_raw_name=4 CPU_name=5 CPU_arch=6 CPU_arch_profile=7 ARM_ISA_use=8 THUMB_ISA_use=9 FP_arch=10 VFP_arch=10 WMMX_arch=11 Advanced_SIMD_arch=12 PCS_config=13 ABI_PCS_R9_use=14 ABI_PCS_RW_data=15 ABI_PCS_RO_data=16 ABI_PCS_GOT_use=17 ABI_PCS_wchar_t=18 ABI_FP_rounding=19 ABI_FP_denormal=20 ABI_FP_exceptions=21 ABI_FP_user_exceptions=22 ABI_FP_number_model=23 ABI_align_needed=24 ABI_align8_needed=24 ABI_align_preserved=25 ABI_align8_preserved=25 ABI_enum_size=26 ABI_HardFP_use=27 ABI_VFP_args=28 ABI_WMMX_args=29 ABI_optimization_goals=30 ABI_FP_optimization_goals=31 compatibility=32 CPU_unaligned_access=34 FP_HP_extension=36 VFP_HP_extension=36 ABI_FP_16bit_format=38 MPextension_use=42 DIV_use=44 DSP_extension=46 MVE_arch=48 PAC_extension=50 BTI_extension=52 BTI_use=74 PACRET_use=76 nodefaults=64 also_compatible_with=65 conformance=67 T2EE_use=66 Virtualization_use=68") {
		k := strings.IndexByte(f, '=')
		n := int64(0)
		fmt.Sscan(f[k+1:], &n)
		m["Tag_"+f[:k]] = n
	}
	return m
})

// attribute reads .eabi_attribute tag, value: the value is a number, a string or
// both, as the tag has it.
func (a *args) attribute() {
	var tag int64
	if a.digit() || a.peek() == '-' || a.peek() == '(' || a.directive.Name == ".gnu_attribute" {
		n, ok := a.number()
		if !ok {
			a.shape()
			return
		}
		tag = n
	} else {
		name := a.name()
		n, ok := attributeTags()[name]
		if !ok {
			a.fail(wording.NoAttribute(name))
			return
		}
		tag = n
	}
	if tag < 0 {
		a.shape()
		return
	}
	number, text := false, false
	gnu := a.directive.Name == ".gnu_attribute"
	switch {
	case tag == 32:
		number, text = true, true
	case !gnu && tag == 64:
		number = true
	case !gnu && (tag == 4 || tag == 5 || tag == 65 || tag == 67), (gnu || tag >= 32) && tag&1 != 0:
		text = true
	case gnu && tag == 64:
		number = true
	default:
		number = true
	}
	if !a.eat(',') {
		a.shape()
		return
	}
	if number {
		if _, ok := a.given(); !ok {
			return
		}
	}
	if text {
		if number && !a.eat(',') {
			a.fail(wording.AttributeBoth(tag))
			return
		}
		if a.peek() != '"' {
			a.fail(wording.AttributeString(tag))
			return
		}
		a.text()
	}
	a.end()
}
