package analysis

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// foreign is another architecture: the names of instructions that tell it from ARM ones, and
// what registers and addresses look like in its operands alone. Both are from memory of the
// manuals of the architectures; it is enough that most are right.
type foreign struct {
	title    string
	names    string // with blanks
	prefix   string // of all its names
	operands string // a regular expression; empty: none is its own
	// registers: these are unmistakable even without names, and in a few lines.
	registers bool
}

// foreigns are the architectures whose sources lie beside ARM ones in public projects. Names
// that ARM code has do not count, whatever a list says.
var foreigns = []foreign{
	{title: "AArch64", names: "adr adrp ret stp ldp ldur stur madd msub cbz cbnz tbz tbnz csel cset csinc csinv csneg ccmp br blr eret movz movk movn sxtw uxtw lsl lsr asr ror orn eon ubfm sbfm dup ins umov smov zip1 zip2 uzp1 uzp2 trn1 trn2 ldxr stxr ldaxr stlxr ldar stlr prfm hint sys at tlbi dc ic smull umull fmadd fmov ld1 st1 ld2 ld3 ld4 st2 st3 st4 ld1r ext tbl rev64 ushll ushr sshr eor3 add sub mov cmp and orr eor ldr str ldrb strb ldrh strh subs adds mul neg mvn bic tst msr mrs b.eq b.ne b.lt b.gt b.le b.ge b.lo b.hi b.ls b.hs b.cs b.cc b.mi b.pl b.vs b.vc",
		operands: `\b[xw](?:[0-9]|[12][0-9]|30)\b|\b[xw]zr\b|\bv(?:[0-9]|[12][0-9]|3[01])\.\d*[bhsd]\b|[\w)]\.(?:16b|8[bh]|4[hs]|2[sd])\b|:lo12:`, registers: true},
	{title: "x86", names: "movl movq movb movw movzbl movzwl movabsq pushl pushq popl popq pushf popf pushfl popfl call callq jmp jmpq je jne jz jnz ja jae jb jbe jg jge jl jle js jns jc jnc ret retq iret iretq lret ljmp leal leaq lea addl addq subl subq xorl xorq orl orq andl andq cmpl cmpq cmpb testl testq testb incl incq decl decq shll shrl sall sarl shlq shrq imull imulq mull int hlt cli sti cld std rep lgdt lidt lldt ltr wrmsr rdmsr cpuid inb outb inw outw pusha popa movaps movups movdqa movdqu paddd pxor vmovdqu vmovdqa vpaddd vpxor emms leave enter sysret sysretq syscall mov push pop xor cmp test add sub and or shl shr",
		operands: `%(?:[re]?[abcd]x|[abcd][lh]|[re]?[sd]il?|[re]?[bs]pl?|r(?:[89]|1[0-5])[dwb]?|[xyz]mm\d+|mm\d|st|[cdefgs]s|cr\d|dr\d)\b|\b[re][abcd]x\b|\b[re][sd]i\b|\b[re][bs]p\b`},
	{title: "MIPS", names: "addiu addu subu lui jr jal jalr lw sw lb lbu lh lhu sb sh ld sd lwl lwr swl swr beq bne bnez beqz bltz bgez blez bgtz move li la nor slt sltu slti sltiu sll srl sra sllv srlv mfc0 mtc0 dmfc0 dmtc0 mfhi mflo mult multu div divu syscall break eret cache sync ll sc daddiu daddu dla dli andi ori xori addi nop j ehb wait",
		operands: `\$(?:zero|at|v[01]|a[0-7]|t\d|s[0-8]|k[01]|gp|sp|fp|ra|[0-9]|[12]\d|3[01]|f\d+)\b|\b(?:t[0-9]|a0|v0|ra|zero)\b`},
	{title: "RISC-V", names: "addi lw sw ld sd lb lbu lh lhu lwu sb sh li la mv jal jalr jr j ret call tail beqz bnez beq bne blt bge bltu bgeu bgez bltz blez bgtz lui auipc csrr csrw csrrw csrrs csrrc csrs csrc csrwi csrsi csrci ecall ebreak mret sret uret wfi fence fence.i slli srli srai addiw slliw srliw andi ori xori slti sltiu seqz snez not neg amoadd.w amoswap.w lr.w sc.w flw fsw fld fsd mul div rem",
		operands: `\b(?:t[0-6]|ra|tp|gp|a[05-7]|zero)\b|\((?:sp|a\d|s\d+|t\d)\)`},
	{title: "PowerPC", names: "mflr mtlr mfcr mtcr mtcrf mtctr mfctr bctr bctrl blr blrl stwu stw lwz lwzu lbz stb lhz sth std stdu ld lis li la mr addi addis addic addze subf subfic subfc cmpwi cmplwi cmpw cmplw cmpdi cmpld bdnz beq bne blt bgt ble bge beq+ bne- rlwinm rlwimi slwi srwi sldi srdi clrlwi mfspr mtspr mfmsr mtmsr mtmsrd rfi rfid isync sync eieio dcbf dcbst dcbz icbi tlbie tlbsync lmw stmw ori oris andi. andis. xori lwarx stwcx. ldarx stdcx. mtdcr mfdcr sc twi tw crclr nop lvx stvx vxor lxvd2x stxvd2x mtvsrd",
		operands: `%r(?:[0-9]|[12]\d|3[01])\b|\bcr[0-7]\b|-?\w+\((?:%?r)?\d+\)|@ha\b|@l\b|\br(?:1[6-9]|2\d|3[01])\b`},
	{title: "MicroBlaze", names: "swi lwi sbi shi lbui lhui addik addi addk rsubk rsubik rsub brlid bralid brid bri brai braid brki brk rtsd rtid rtbd rted imm mts mfs msrset msrclr beqid beqi bneid bnei bltid bgeid bgtid bleid ori andi xori andni cmpu cmp or xor and sext8 sext16 srl sra bslli bsrli bsrai get put nget nput wdc wic muli sw lw sb sh lbu lhu la add idiv",
		operands: `\brmsr\b|\brpc\b|\brear\b|\bresr\b|\br(?:1[6-9]|2\d|3[01])\b`},
	{title: "AVR", names: "ldi lds sts ld st ldd std out in rjmp rcall call jmp ijmp icall ret reti brne breq brcc brcs brlo brsh brge brlt brtc brts sbi cbi sbic sbis sbrc sbrs sbiw adiw cpi cpc cpse cp subi sbci andi ori clr ser com inc dec lsl lsr rol ror asr swap sei cli wdr sleep lpm elpm spm movw mov push pop muls fmul nop bst bld",
		operands: `\br(?:1[6-9]|2\d|3[01])\b|\b[XYZ][+]|\b-[XYZ]\b|\b(?:lo8|hi8|pm|_SFR_IO_ADDR)\(`},
	{title: "68k", names: "movel movew moveb movem moveml move moveq move.l move.w move.b movea.l movem.l moveq.l lea lea.l pea jsr jmp bsr bsr.s bra bra.s rts rte rtr clr.l clr.w clr.b clrl tst.l tst.w tst.b tstl cmp.l cmp.w cmpi.l addq.l addql subq.l subql addi.l add.l addl sub.l subl and.l andi.l or.l ori.l ori.w ori andi eor.l lsl.l lsr.l asl.l asr.l swap ext.l dbra dbf link unlk trap stop beq.s bne.s beq bne btst bset bclr mulu divu",
		operands: `%[da][0-7]\b|\b[da][0-7]@|\(%?a[0-7]\)|\(%?sp\)[+]|-\(%?(?:a[0-7]|sp)\)|%sp\b|%fp\b|%sr\b|\bd[0-7],\s*a[0-7]\b`},
	{title: "SPARC", names: "save restore sethi set ta tn retl ret jmpl call ld ldd ldx ldub lduh st std stx stb sth mov or and andn xor add sub addcc subcc cmp tst be bne bg bl ba bz bnz brz brnz wr rd rdpr wrpr flushw flush membar nop stxa ldxa ldda retry done cas casx",
		operands: `%[goli][0-7]\b|%[sf]p\b|%hi\(|%lo\(|%f\d+\b|%psr\b|%wim\b|%asi\b`},
	{title: "SuperH", names: "mov.l mov.w mov.b mova bsr bra bf bt bf/s bt/s jsr jmp rts rte rtv sts.l lds.l stc.l ldc.l sts lds stc ldc tst cmp/eq cmp/ge cmp/gt cmp/hi cmp/hs cmp/pl shll shlr shll2 shll8 shll16 shlr2 shlr8 shlr16 rotcl dt extu.b extu.w exts.b exts.w trapa nop and or xor add sub movt clrt sett pref ocbi ocbwb",
		operands: `@-?r\d+[+]?|@\(\w+,\s*(?:r\d+|pc|gbr)\)|@r15[+]|\bpr\b|\bgbr\b|\bvbr\b`},
	{title: "s390", names: "stm lm stmg lmg la larl lgr lr l st lg stg lhi lghi ahi aghi basr bras brasl br bcr bc j jne je jz jnz jh jl brc brct ltr ltgr cr cgr slr sr mvc mvi clc cli tm ni oi xc ex lctl lctlg stctl lpsw lpswe ssm stosm stnsm svc sacf",
		operands: `%[rfac](?:[0-9]|1[0-5])\b|\b\w+\(%r\d+\)`},
	{title: "Xtensa", names: "entry retw retw.n ret.n l32i l32i.n s32i s32i.n l32r l16ui s16i l8ui s8i movi movi.n mov.n addi addi.n addmi call0 call4 call8 call12 callx0 callx4 callx8 rsr wsr xsr rsync isync dsync esync rfe rfi rfwo rfwu rotw beqz bnez beqz.n bnez.n bbsi bbci bltz bgez ssl ssr sll srl srai slli srli extui j jx waiti rsil memw simcall"},
	{title: "OpenRISC", prefix: "l."},
	{title: "LoongArch", names: "addi.d addi.w add.d add.w sub.d sub.w st.d st.w st.b st.h ld.d ld.w ld.b ld.h ld.bu ldptr.d stptr.d jirl pcaddu12i pcalau12i lu12i.w lu32i.d lu52i.d ori andi xori beqz bnez bgeu bltu slli.d srli.d srai.d bstrpick.d csrrd csrwr csrxchg ertn li.d li.w la la.pcrel move jr or syscall dbar ibar invtlb iocsrwr.w",
		operands: `\$(?:zero|ra|tp|sp|fp|a[0-7]|t[0-8]|s[0-8]|r\d+|f[ast]\d+)\b`},
	{title: "Nios II", names: "movia movi movhi mov stw stwio ldw ldwio ldb ldbu ldbuio stb stbio ldhu sth addi subi callr call jmp jmpi ret eret bret br beq bne bgt blt bge ble bgtu bltu rdctl wrctl initd initi flushd flushi flushp orhi ori andhi andi slli srli srai roli nop",
		operands: `\b(?:et|bt|gp|ea|ba|ra)\b|\b-?\d+\((?:sp|r\d+|fp|et|ea)\)|\br(?:1[6-9]|2\d|3[01])\b`},
	{title: "MSP430", names: "mov.w mov.b bis.b bic.b bis.w bic.w bis bic bit.b bit.w xor.b xor.w add.w sub.w cmp.w cmp.b clr clr.b inc inc.w incd dec dec.w decd tst tst.w jmp jnz jz jne jeq jc jnc jge jl call ret reti push push.w pop pop.w rra rrc swpb sxt dint eint br nop",
		operands: `&[A-Za-z_]\w*|@r\d+[+]?|\b\w+\(r\d+\)`},
	{title: "6502", names: "lda ldx ldy sta stx sty tax tay txa tya tsx txs pha pla php plp jsr rts rti jmp bne beq bcc bcs bpl bmi bvc bvs inx iny dex dey inc dec asl lsr rol ror adc sbc cmp cpx cpy and ora eor bit clc sec cli sei cld sed clv brk nop bra stz phx phy plx ply",
		operands: `#?\$[0-9A-Fa-f]{2,4}\b|,\s*[xXyY]\b|\(\$?\w+\),\s*[yY]`},
	{title: "Z80", names: "ld push pop ex exx ldir lddr ldi ldd cp cpi cpir jp jr call ret reti retn djnz rst inc dec add adc sub sbc and or xor cpl neg ccf scf halt di ei im rlca rrca rla rra rlc rrc rl rr sla sra srl bit set res in out ini outi otir daa nop",
		operands: `(?i)\(\s*(?:hl|ix|iy|bc|de|sp)\b[^)]*\)|\b(?:hl|bc|de|ix|iy|af)\b|^\s*n?[zc]\s*,|^\s*a\s*,|,\s*a\s*$`},
	{title: "8051", names: "mov movx movc ljmp lcall sjmp ajmp acall ret reti djnz cjne jz jnz jb jnb jbc jc jnc setb clr cpl anl orl xrl add addc subb inc dec mul div da swap xch xchd push pop rl rlc rr rrc nop",
		operands: `(?i)@r[01]\b|@a\s*\+|@?\bdptr\b|\bacc\b|\bp[0-3]\.[0-7]\b|^\s*a\s*,|,\s*a\s*$`},
	{title: "PA-RISC", names: "ldw stw ldo ldil addil copy bv bv,n b,l b,n bl,n be,l be,n comb cmpb,= cmpib addib ldi mtctl mfctl mtsp mfsp rfi rsm ssm ldd std depd extrd depw extrw shladd stwm ldwm nop",
		operands: `%r\d+\b|%(?:arg[0-3]|rp|dp|sp|ret[01]|sr\d|cr\d+)\b|[LR]%`},
	{title: "Alpha", names: "lda ldah ldq stq ldl stl ldq_u stq_u ldbu stb br bsr jsr ret beq bne blt bge ble bgt addq subq addl subl s4addq s8addq cmpeq cmplt cmple cmpult bis xor and sll srl sra extbl insbl mskbl zapnot call_pal mb wmb unop nop mov",
		operands: `\$(?:[0-9]|[12]\d|3[01]|f\d+|gp|sp|at)\b`},
}

// The bounds of what is foreign: so many lines of the other architecture, so many different
// names and operands in them, and that part of all lines.
const (
	fewForeign      = 4
	foreignMarks    = 3
	manyDirectives  = 4        // that begin with '%': some lines may look like ARM code
	fewRegisters    = 2        // of both, where nothing else is in the operands of the source
	foreignPart     = 3        // one in so many
	maxForeignBytes = 16 << 10 // of code that is looked at
)

// foreignLooks are foreigns, ready to be asked.
var foreignLooks = sync.OnceValue(func() (out []foreignLook) {
	for _, f := range foreigns {
		l := foreignLook{foreign: f, known: map[string]bool{}}
		for _, n := range strings.Fields(f.names) {
			l.known[n] = true
		}
		if f.operands != "" {
			l.own = regexp.MustCompile(f.operands)
		}
		out = append(out, l)
	}
	return out
})

type foreignLook struct {
	foreign
	known map[string]bool
	own   *regexp.Regexp
}

// foreignOf says which other architecture a source is of, empty if that is not clear, and by
// which names and operands it is seen; ok is false for what is not clearly of one. r is what the
// source comes to as ARM code: where a good part of its lines is right as that, it is that.
func foreignOf(r *Result) (title string, marks []string, ok bool) {
	p, c := r.prog, &r.kept.marks
	if !c.done {
		c.done = true
		for i := range p.Items {
			c.add(&p.Items[i], 1)
		}
	}
	if c.wrong == 0 || saysARM(p) {
		return "", nil, false
	}
	if title, marks, ok = foreignLines(r, c.right, c.wrong); ok {
		return title, marks, true
	}
	folder := ""
	if c.right == 0 && !chosen(p) && !r.in.Set.named() {
		folder = foreignFolder(r.in.Path)
	}
	return "", []string{wording.FolderNamed(folder)}, folder != ""
}

// foreignLines is foreignOf for what the lines of a source tell, of which some are right as ARM
// code and others wrong.
func foreignLines(r *Result, right, wrong int) (title string, marks []string, ok bool) {
	p := r.prog
	if wrong < fewRegisters {
		return "", nil, false
	}
	if mark, ok := forMacros(p.File.Text()); ok {
		return macroTitle, []string{mark}, true
	}
	if right > wrong {
		return "", nil, false
	}
	if script().MatchString(p.File.Text()) {
		return scriptTitle, []string{"SECTIONS {"}, true
	}
	if marks := otherDirective().FindAllStringSubmatch(p.File.Text(), manyDirectives); len(marks) > 0 && (right == 0 || len(marks) == manyDirectives) {
		return "x86", marks[0][1:], true
	}
	// As the preprocessor leaves it, and as it is, for what it leaves out as it knows nothing
	// of the other architecture.
	if title, marks, ok = foreignText(p, p.Sources[0].File, p.Sources[0].Preprocessed(), 2*right); !ok && p.Sources[0].Preprocessed() {
		title, marks, ok = foreignText(p, p.File, false, 4*right)
	}
	if !ok && !r.in.Set.named() { // else somebody has said that it is
		marks, ok = unlikeARM(p, r.wrongItem())
	}
	return title, marks, ok
}

// wrongItem gives a function that says whether an item's line has an error.
func (r *Result) wrongItem() func(it *program.Item) bool {
	type line struct {
		path string
		n    int
	}
	at := func(l Location) line {
		if l.Path == r.in.Path {
			return line{"", r.in.File.LineAt(l.Span.Start)}
		}
		return line{l.Path, l.Span.Start}
	}
	var bad map[line]bool // made when it is asked for
	return func(it *program.Item) bool {
		if bad == nil {
			bad = map[line]bool{}
			for i := range r.each {
				if r.each[i].Severity == Error {
					bad[at(r.each[i].Location)] = true
				}
			}
		}
		return bad[at(r.prog.StmtLoc(it).Location)]
	}
}

// lineCount counts the lines that are instructions and that could not be.
type lineCount struct {
	done         bool // all of a program have been counted
	right, wrong int
}

// add counts an item n times more.
func (c *lineCount) add(it *program.Item, n int) {
	switch s := it.Stmt; {
	case s.Kind == syntax.Instruction && it.Match.Form != nil && it.Flags&program.Refused == 0:
		if slices.ContainsFunc(s.Ops, func(o syntax.Operand) bool { return o.Kind != isa.OpExpr && o.Kind != isa.OpImm }) {
			c.right += n
		}
	case s.Kind == syntax.Instruction, s.Kind == syntax.Unknown, s.Kind == syntax.Bad:
		c.wrong += n
	}
}

// scriptTitle is what a linker's script that goes through the preprocessor is taken for.
const scriptTitle = "linker script"

// script finds the command of a linker's script that says where sections are.
var script = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?m)^SECTIONS[ \t]*(\{|\r?\n[ \t]*\{)`) })

// macroTitle is what a text for m4 is taken for, which makes assembly of it.
const macroTitle = "m4"

// macroText finds what begins lines of a text for m4 and of no assembly: its comments, and
// definitions of names in its quotes.
var macroText = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile("(?m)^(?:dnl\\b|define\\([`<]|changequote\\(|include\\([`<])")
})

// macroNames are in each line that macroText finds. Nearly all texts have none of them, which is
// found out much more quickly than that no line begins with one.
var macroNames = []string{"dnl", "define(", "changequote(", "include("}

// forMacros says whether a text is one for m4, and by what.
func forMacros(text string) (mark string, ok bool) {
	if !slices.ContainsFunc(macroNames, func(name string) bool { return strings.Contains(text, name) }) {
		return "", false
	}
	marks := macroText().FindAllString(text, manyDirectives)
	if len(marks) < manyDirectives {
		return "", false
	}
	return marks[0], true
}

// otherDirective finds the directives of an assembler for x86 that begin with '%', as nothing
// does for ARM; group 1 is the directive.
var otherDirective = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?m)^[ \t]*(%(?:include|define|macro|if|ifdef|ifndef|ifidn|assign|endif|endmacro))\b`)
})

// foreignText is foreignOf for a text, of which least lines have to be foreign; made: the
// preprocessor left it so.
func foreignText(p *program.Program, f *syntax.File, made bool, least int) (title string, tells []string, ok bool) {
	looks := foreignLooks()
	c := &foreignCount{program: p, marks: make([]int, len(looks)), seen: make([][]string, len(looks)), named: make([]bool, len(looks))}
	left := maxForeignBytes
	for i := 0; i < f.NumLines() && left > 0; i++ {
		for _, text := range statementsOf(f.Line(i).Text, made) {
			if name, rest := foreignLine(text); name != "" {
				left -= len(text)
				c.add(looks, name, rest)
			}
		}
	}
	if c.some < fewRegisters || c.some*foreignPart < c.all || least > c.some {
		return "", nil, false
	}
	best, second := 0, -1
	for k := 1; k < len(looks); k++ {
		switch {
		case c.marks[k] > c.marks[best]:
			best, second = k, best
		case second < 0 || c.marks[k] > c.marks[second]:
			second = k
		}
	}
	few, distinct := fewForeign, foreignMarks
	if looks[best].registers && least == 0 {
		few, distinct = fewRegisters, fewRegisters
	}
	if c.some < few || len(c.seen[best]) < distinct || !c.named[best] && !looks[best].registers {
		return "", nil, false
	}
	title = looks[best].title
	if c.marks[second]*10 > c.marks[best]*9 || c.marks[best] < c.some {
		title = "" // it has something of several
	}
	return title, c.seen[best][:min(len(c.seen[best]), foreignMarks)], true
}

// foreignCount counts what in a text tells that it is of another architecture: all lines,
// those that are foreign, and by architecture the marks, each of them once, and whether names
// are among them.
type foreignCount struct {
	program   *program.Program
	all, some int
	marks     []int
	seen      [][]string
	named     []bool
}

// add counts a line. What the program defines is no register of another architecture.
func (c *foreignCount) add(looks []foreignLook, name, rest string) {
	c.all++
	m, _ := isa.Find(name)
	any := false
	for k := range looks {
		l := &looks[k]
		var tells [2]string
		if l.own != nil && (l.known[name] || m == nil) {
			if tells[0] = strings.Trim(l.own.FindString(rest), " \t,"); c.program.Symbols[tells[0]] != nil && c.program.Symbols[tells[0]].Defined {
				tells[0] = ""
			}
		}
		if m == nil && (l.known[name] || l.prefix != "" && strings.HasPrefix(name, l.prefix)) {
			tells[1], c.named[k] = name, true
		}
		for _, mark := range tells {
			if mark == "" {
				continue
			}
			any = true
			if c.marks[k]++; !slices.Contains(c.seen[k], mark) {
				c.seen[k] = append(c.seen[k], mark)
			}
		}
	}
	if any {
		c.some++
	}
}

// statementsOf are the statements of a line, which macros of the preprocessor put in one.
func statementsOf(text string, made bool) []string {
	if made {
		return strings.Split(text, ";")
	}
	return []string{text}
}

// foreignLine takes the name of an instruction in lower case out of a line of any assembly,
// and what comes after it; name is empty for what is none.
func foreignLine(line string) (name, rest string) {
	t := strings.TrimSpace(line)
	for {
		w := strings.IndexAny(t, " \t:")
		if w <= 0 || t[w] != ':' {
			break
		}
		t = strings.TrimSpace(strings.TrimLeft(t[w:], ":"))
	}
	if t == "" || strings.IndexByte("#/*;|!@.%$\"'<>(){}[]=,\\", t[0]) >= 0 {
		return "", ""
	}
	name, rest = t, ""
	if w := strings.IndexAny(t, " \t;"); w > 0 {
		name, rest = t[:w], t[w:]
	}
	for _, mark := range []string{"/*", "//", "@ ", " # ", "\t#"} {
		if i := strings.Index(rest, mark); i >= 0 {
			rest = rest[:i]
		}
	}
	return strings.ToLower(name), rest
}

// foreignHint says that a source is of another architecture.
func foreignHint(in *Input, title string, marks []string) Diagnostic {
	says := wording.Foreign(title, marks)
	switch title {
	case scriptTitle:
		says = wording.LinkerScript()
	case macroTitle:
		says = wording.MacroText()
	}
	return Diagnostic{
		Location: Location{Path: in.Path, Span: Span{End: len(in.File.Line(0).Text)}},
		Severity: Hint, Code: finding.CodeTarget, Message: says,
	}
}
