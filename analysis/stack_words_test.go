package analysis

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/image"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// stackStyle is a target for programs that use the stack: D and N stand for registers, O
// for a place in the frame, c for a condition.
type stackStyle struct {
	name, head string
	lines      []string // that access a word or less
	doubles    []string // two words
	wrong      []string // lines that are refused, and evidently mean something
	conds      bool
}

var stackStyles = []stackStyle{
	{name: "T16", head: ".arch armv6-m|.syntax unified|.thumb|", lines: []string{"str D,[sp,#O]", "ldr D,[sp,#O]", "str D,[sp,#O]", "ldr D,[sp,#O]", "adds D,N,#1", "eors D,N", "movs D,#7"},
		wrong: []string{"str r8,[sp,#O]", "ldr r8,[sp,#O]", "adds r8,#1"}},
	{name: "T32", head: ".arch armv7-a|.syntax unified|.thumb|", lines: []string{"str D,[sp,#O]", "ldr D,[sp,#O]", "str r8,[sp,#O]", "ldr D,[sp,#O]", "strb D,[sp,#O]", "ldrb D,[sp,#O]", "strh D,[sp,#O]", "ldrsh D,[sp,#O]", "str.w D,[sp,#O]",
		"adds D,N,#1", "eors D,N", "movs D,#7"}, doubles: []string{"strd D,r9,[sp,#O]", "ldrd D,r9,[sp,#O]"}, wrong: []string{"adds D,N,#0x12345"}},
	{name: "A32", head: ".arch armv7-a|.syntax unified|.arm|", conds: true, lines: []string{"strc D,[sp,#O]", "ldrc D,[sp,#O]", "strc D,[sp,#O]", "ldrc D,[sp,#O]", "strbc D,[sp,#O]", "ldrbc D,[sp,#O]", "strhc D,[sp,#O]", "ldrshc D,[sp,#O]",
		"addsc D,N,#1", "eorsc D,N,D", "movc D,#7"}, doubles: []string{"strdc r2,r3,[sp,#O]", "ldrdc r2,r3,[sp,#O]", "ldmc sp,{D,r9}", "stmc sp,{D,r9}"}, wrong: []string{"addc D,N,#0x12345"}},
}

// stackWriter makes a program of routines with frames. Routine 0 is main.
type stackWriter struct {
	*rand.Rand
	*stackStyle
	out      []string
	routines int
	label    int
	words    int // of the frame, at a place
}

func (w *stackWriter) line(format string, args ...any) {
	w.out = append(w.out, "\t"+fmt.Sprintf(format, args...))
}

func (w *stackWriter) access(list []string, words int) {
	regs := w.Perm(4)
	top := w.words + 3 - words // now and then the caller's
	if w.IntN(8) > 0 {
		top = w.words - words
	}
	if top < 0 {
		return
	}
	cond := ""
	if w.conds && w.IntN(5) == 0 {
		cond = pathConds[w.IntN(14)]
	}
	s := list[w.IntN(len(list))]
	at := 4 * w.IntN(top+1)
	if strings.Contains(s, "b") && w.IntN(2) == 0 {
		at++
	}
	name, ops, _ := strings.Cut(s, " ")
	name = strings.Replace(strings.TrimSuffix(name, "c"), "sc", "s", 1) + map[bool]string{true: cond}[strings.HasSuffix(name, "c")]
	ops = strings.NewReplacer("D", fmt.Sprintf("r%d", regs[0]), "N", fmt.Sprintf("r%d", regs[1]), "O", fmt.Sprint(at)).Replace(ops)
	w.line("%s %s", name, ops)
}

// part writes a part of a routine, which leaves the stack as it was.
func (w *stackWriter) part(depth int) {
	switch n := w.IntN(24); {
	case n < 2 && depth > 0:
		w.label++
		l := w.label
		w.line("b%s L%d", pathConds[w.IntN(14)], l)
		w.part(depth - 1)
		w.out = append(w.out, fmt.Sprintf("L%d:", l))
	case n == 2 && depth > 0:
		w.label++
		l := w.label
		w.line("movs r5,#%d", 1+w.IntN(3))
		w.out = append(w.out, fmt.Sprintf("L%d:", l))
		w.part(0)
		w.line("subs r5,#1")
		w.line("bne L%d", l)
	case n < 6:
		w.line("bl f%d", 1+w.IntN(w.routines-1))
	case n == 6 && w.IntN(3) == 0:
		w.line("bl other%d", w.IntN(2))
	case n < 9 && depth > 0: // words for a while
		k := 1 + w.IntN(3)
		regs := "{" + strings.Join([]string{"r0", "r1", "r2"}[:k], ",") + "}"
		switch w.IntN(3) {
		case 0:
			w.line("sub sp,#%d", 4*k)
			w.words += k
			w.line("str r3,[sp,#%d]", 4*w.IntN(k))
			w.part(depth - 1)
			w.line("add sp,#%d", 4*k)
		case 1:
			w.line("push %s", regs)
			w.words += k
			w.part(depth - 1)
			w.line("add sp,#%d", 4*k)
		default:
			w.line("push %s", regs)
			w.words += k
			w.part(depth - 1)
			w.line("pop %s", regs)
		}
		w.words -= k
	case n == 9 && w.IntN(4) == 0 && w.words > 0: // an address of it
		w.line("%s", []string{"mov r7,sp", fmt.Sprintf("add r7,sp,#%d", 4*w.IntN(w.words))}[w.IntN(2)])
		w.part(0)
		w.line("%s r%d,[r7]", []string{"ldr", "str"}[w.IntN(2)], w.IntN(4))
		w.line("movs r7,#0")
	case n == 10 && w.doubles != nil:
		w.access(w.doubles, 2)
	case n == 11:
		w.access(w.wrong, 1)
		w.out[len(w.out)-1] += " @ wrong"
	default:
		for range 1 + w.IntN(3) {
			w.access(w.lines, 1)
		}
	}
}

// routine writes one. Now and then it comes back with another stack pointer.
func (w *stackWriter) routine(k int) {
	if k == 0 || w.IntN(3) == 0 {
		w.line(".global f%d", k)
	}
	if !w.conds {
		w.line(".thumb_func")
	}
	w.out = append(w.out, fmt.Sprintf("f%d:", k))
	w.words = 2
	w.line("push {r4,lr}")
	frame := w.IntN(5)
	if frame > 0 {
		w.line("sub sp,#%d", 4*frame)
	}
	w.words += frame
	for i := range frame {
		if w.IntN(5) > 0 {
			w.line("str r%d,[sp,#%d]", w.IntN(4), 4*i)
		}
	}
	for range 2 + w.IntN(5) {
		w.part(2)
	}
	if frame > 0 {
		w.line("add sp,#%d", 4*frame)
	}
	switch n := w.IntN(12); {
	case n == 0 && k > 0: // it leaves words behind, which the caller does not know of
		w.line("sub sp,#4")
		w.line("ldr r4,[sp,#8]")
		w.line("bx r4")
	case n < 3 && k > 0 && w.name != "T16":
		w.line("pop {r4,lr}")
		w.line("b f%d", 1+w.IntN(w.routines-1))
	default:
		w.line("pop {r4,pc}")
	}
}

func (w *stackWriter) program() string {
	w.routines = 2 + w.IntN(3)
	w.out = strings.Split(strings.TrimSuffix(w.head, "|"), "|")
	for k := range w.routines {
		w.routine(k)
	}
	return strings.Join(w.out, "\n") + "\n"
}

// stackProof runs a program.
type stackProof struct {
	pathProof
	forks, dead, all int
	words            map[int32][]flow.StackWord // after items, once they have been asked for
}

// frame are the words of the frame after a line.
func (p *stackProof) frame(it *program.Item) []flow.StackWord {
	words, ok := p.words[it.Index]
	if !ok {
		words, _ = p.paths.FrameWords(it)
		p.words[it.Index] = words
	}
	return words
}

// owned are words of the stack that have been stored and not been below the stack pointer
// since; others may hold anything (AAPCS32, 6.2.1.1).
type owned map[uint32]bool

// stackTop is where the stack is when main is entered.
const stackTop = 0x3000_8000

// step carries out a line, and says whether it has loaded a word that may hold anything.
func (o owned) step(c *pathCore, img *image.Image) (it *program.Item, nobodys bool) {
	sp := c.Regs[isa.SP]
	it = c.step(img)
	for _, a := range c.Log {
		for at := a.Addr &^ 3; at < a.Addr+uint32(a.Size); at += 4 {
			switch below := stackTop - at; {
			case below-1 >= 0x10000:
			case a.Store && a.Size == 4:
				o[at] = true
			case !a.Store && !o[at]:
				nobodys = true
			}
		}
	}
	for at := sp; at < c.Regs[isa.SP] && c.Regs[isa.SP]-sp < 0x1000; at += 4 {
		delete(o, at)
	}
	return it, nobodys
}

// fork changes the words that are dead after a line that has just been carried out, with
// the stack pointer in front of it, and runs both cores on. It says what that changes.
func (p *stackProof) fork(core *pathCore, own owned, it *program.Item, sp uint32) string {
	words := p.frame(it)
	a, b, own := core.clone(), core.clone(), maps.Clone(own)
	changed := map[uint32]bool{}
	for i := range words {
		p.all++
		if w := &words[i]; w.Dead() {
			at := sp + uint32(w.At)
			changed[at] = true
			for k := range uint32(4) {
				b.mem.stored[at+k] = a.mem.Load(at+k) ^ byte(1+p.rand.IntN(255))
			}
		}
	}
	p.dead += len(changed)
	if len(changed) == 0 {
		return ""
	}
	p.forks++
	for range 150 {
		if p.img.At(a.Regs[isa.PC]) == nil {
			if d := a.alike(b, true); d != "" {
				return d
			}
			for k := range uint32(64) { // arguments of what is called, or what the caller has
				if at := a.Regs[isa.SP] + k; own[at&^3] && a.mem.Load(at) != b.mem.Load(at) {
					return fmt.Sprintf("the byte at sp+%d is another one where it goes to %#x", k, a.Regs[isa.PC])
				}
			}
		}
		x, nobodys := own.step(a, p.img)
		y := b.step(p.img)
		if nobodys {
			break
		}
		if x != y || a.over != b.over {
			return "they go different ways"
		}
		if d := a.otherAccesses(b); d != "" {
			return fmt.Sprintf("%s by %q", d, p.img.LineText(x))
		}
		if a.over {
			break
		}
	}
	return ""
}

// run carries a program out from main, a few times.
func (p *stackProof) run(prog *program.Program) string {
	main := p.img.SymbolOf("f0")
	data := dataOf(prog, p.img)
	for range 3 {
		c := p.newCore(data)
		for r := range 13 {
			c.Regs[r] = p.rand.Uint32() & 0x0fff_fffc
		}
		c.Flags = isa.Flags(p.rand.Uint32()) & isa.NZCV
		p.enter(c, main, stackTop)
		own := owned{}
		for range 250 {
			sp := c.Regs[isa.SP]
			it, nobodys := own.step(c, p.img)
			if c.over || nobodys {
				break
			}
			if it == nil || p.rand.IntN(3) != 0 {
				continue
			}
			if bad := p.fork(c, own, it, sp); bad != "" {
				return fmt.Sprintf("after line %d, %s: %s", it.Line+1, p.img.LineText(it), bad)
			}
		}
	}
	return ""
}

// TestDeadWords holds that nothing depends on words of the stack that are called dead:
// random programs are carried out, and at random lines of the way all words of the frame
// that are dead there get other values. From there on the programs go the same way, access
// the same memory with the same values, and hand the same arguments to other files.
func TestDeadWords(t *testing.T) {
	t.Parallel()
	for i := range stackStyles {
		style := &stackStyles[i]
		t.Run(style.name, func(t *testing.T) {
			proof := reftest.Begin(t)
			rnd := reftest.Rand(62, uint64(i))
			forks, dead, all := 0, 0, 0
			for range reftest.Count(20, 250, 20000) {
				w := &stackWriter{Rand: rnd, stackStyle: style}
				text := w.program()
				res, err := Analyze(context.Background(), &Input{Path: "stack.s", File: syntax.Parse(text)})
				if err != nil {
					t.Fatal(err)
				}
				for _, d := range res.Each() {
					if line := res.in.File.Line(res.in.File.LineAt(d.Span.Start)).Text; d.Severity == finding.Error && !strings.Contains(line, "@ wrong") {
						t.Fatalf("%s: %s\n%s", d.Message, line, text)
					}
				}
				p := &stackProof{words: map[int32][]flow.StackWord{}, pathProof: pathProof{img: image.New(eval.New(res.prog)), paths: flow.Paths{Evaluator: eval.New(res.prog)}, rand: rnd}}
				if bad := p.run(res.prog); bad != "" {
					t.Fatalf("%s\n%s", bad, text)
				}
				forks, dead, all = forks+p.forks, dead+p.dead, all+p.all
			}
			proof.Counted("%s: %d of %d words of frames are dead; runs with other values: %d", style.name, dead, all, forks)
			if forks < reftest.Least(1000) || 100*dead < 5*all {
				t.Errorf("too few: %d runs, %d dead of %d", forks, dead, all)
			}
		})
	}
}
