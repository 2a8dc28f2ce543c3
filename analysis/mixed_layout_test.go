package analysis

import (
	"context"
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// mixer makes a random program of data in sections and subsections, with records,
// unwinding tables, call frame information, conditions and an included file.
type mixer struct {
	*rand.Rand
	b      strings.Builder
	labels int
	pushed int
	proc   int // open .cfi_startproc: place in the section stack + 1
	fn     int // 1 after .fnstart, 2 after .handlerdata
	record bool
}

func (m *mixer) f(format string, args ...any) { fmt.Fprintf(&m.b, format+"\n", args...) }

func (m *mixer) pick(list ...string) string { return list[m.Intn(len(list))] }

func (m *mixer) value() string {
	l := func() string { return fmt.Sprintf("l%d", m.Intn(m.labels+2)) }
	if m.record || m.Intn(2) == 0 {
		return m.pick("0", "1", "-1", "200", "k", "k*3", "k-(7/2)", "1<<k", "(k>2)&5", "r0_")
	}
	return m.pick(l(), l()+"+4", l()+"-"+l(), ".", ".-"+l(), "ext", "weak0", "ext-.")
}

func (m *mixer) closed() bool { return m.proc == 0 && m.fn == 0 && !m.record }

func (m *mixer) statement() {
	if m.record {
		switch m.Intn(6) {
		case 0, 1:
			m.f("f%d:\t.space %s", m.Int31n(1<<30), m.pick("4", "k", "1"))
		case 2:
			m.f("\t.balign %s", m.pick("2", "4", "8"))
		case 3:
			m.f("\t.byte 0\n\t.word 0")
		default:
			m.f("g%d:", m.Int31n(1<<30))
			m.f("\t.%s", m.pick("text", "data", "text 1", "previous"))
			m.record = false
		}
		return
	}
	switch m.Intn(34) {
	case 0, 1, 2, 3:
		m.f("l%d:", m.labels)
		m.labels++
	case 4, 5:
		m.f("\t.word %s, %s", m.value(), m.value())
	case 6:
		m.f("\t.byte %s", m.pick("1", "k", "'x'", "1, 2, 3"))
	case 7:
		m.f("\t.hword %s", m.pick("1", "k", "0x1234"))
	case 8:
		m.f("\t.quad %s", m.pick("1", "0x123456789a", "k<<40"))
	case 9:
		m.f("\t.%s %s", m.pick("align", "p2align"), m.pick("0", "1", "2", "3", "4", "3,0", "4,,3"))
	case 10:
		m.f("\t.balign %s", m.pick("1", "2", "4", "8", "16", "8,,2"))
	case 11:
		m.f("\t.space %s", m.pick("1", "k", "3,1", "k*2+1", "0"))
	case 12:
		m.f("\t.fill %s", m.pick("2", "3,2", "2,4,7", "k,1,0xff", "0"))
	case 13:
		m.f("\t.asciz \"%s\"", m.pick("", "a", "track", "points 12"))
	case 14:
		m.f("\t.uleb128 %s", m.pick("1", "k*100", "0x123456"))
	case 15:
		m.f("\t.set k, %s", m.pick("1", "2", "5", "k+1", "k*2&15", "7"))
	case 16:
		m.f("\t.%s %s", m.pick("weak", "global", "hidden", "protected"), m.pick("l0", "l1", "ext", "weak0"))
	case 17:
		m.f("\t.if %s\n\t.hword 1\n\t.else\n\t.byte 2\n\t.endif", m.pick("k>3", "k&1", "k==5", "0", "l0==l0"))
	case 18:
		m.f("\t.ifdef l%d\n\t.byte 4\n\t.endif", m.Intn(m.labels+1))
	case 19:
		if m.closed() {
			m.f("\t.struct %s", m.pick("0", "4", "k"))
			m.record = true
		}
	case 20, 21, 22:
		if m.closed() {
			m.f("\t.%s", m.pick("text", "data", "text 1", "data 2", "text 2", "data 1", "section .box,\"a\"", "section .box.code,\"ax\",%progbits", "section .box,\"a\",%progbits", "subsection 1", "subsection 0", "subsection 3", "previous"))
		}
	case 23:
		if m.closed() && m.pushed < 3 {
			m.f("\t.pushsection %s", m.pick(".data", ".text", ".box, 1", ".data, 2", ".signal, \"aw\", %progbits"))
			m.pushed++
		}
	case 24:
		if m.closed() && m.pushed > 0 {
			m.f("\t.popsection")
			m.pushed--
		}
	case 25:
		m.f("\t.org . + %s", m.pick("1", "4", "k"))
	case 26:
		if m.closed() {
			m.f("\t.balign 4\n\t.cfi_startproc")
			m.proc = 1
		} else if m.proc == 1 {
			m.f("\t.cfi_endproc")
			m.proc = 0
		}
	case 27:
		if m.proc == 1 || m.Intn(8) == 0 {
			m.f("\t.cfi_%s", m.pick("def_cfa_offset 8", "offset lr, -4", "remember_state", "def_cfa sp, 16", "restore lr", "adjust_cfa_offset k*4", "restore_state", "offset 3 -4"))
		}
	case 28:
		switch {
		case m.closed():
			m.f("\t.fnstart")
			m.fn = 1
		case m.fn > 0:
			m.f("\t.fnend")
			m.fn = 0
		}
	case 29:
		if m.fn == 1 || m.Intn(8) == 0 {
			m.f("\t.%s", m.pick("save {r4, lr}", "save {r4-r7}", "pad #8", "pad #600", "setfp fp, sp, #8", "vsave {d8-d9}", "personality route", "movsp r7", "save {x9}", "pad #3", "cantunwind"))
		}
	case 30:
		if m.fn == 1 {
			m.f("\t.handlerdata\nh%d:\t.word 1", m.Int31n(1<<30))
			m.fn = 2
		}
	case 31:
		m.f("\t.%s", m.pick("comm com0, 8", "lcomm loc"+fmt.Sprint(m.Int31n(1<<30))+", 6", "local ext2", "type l0, %object", "size l0, 4", "ident \"box\"", "eabi_attribute 24, 1"))
	case 32:
		m.f("\t.%s", m.pick("byte ext ext", "section", "type l0", "size l0", "popsection x", "balign 6", "fill x0", "uleb128 nothing", "eabi_attribute", "loc 1 1"))
	default:
		m.f("\t.include \"part.inc\"")
	}
}

// TestMixedLayout compares random programs of directives with the reference
// assembler: verdicts line by line, the place of every label, the value of every
// symbol and the size of every section. With NARROWGAUGE_THOROUGH=1 there are
// 6,000.
func TestMixedLayout(t *testing.T) {
	t.Parallel()
	reftest.Require(t, "arm-none-eabi-as")
	proof := reftest.Begin(t)
	n, first := reftest.Count(30, 600, 6000), reftest.Seed(0)
	dir := t.TempDir()
	const part = "\t.byte 3\n\t.ifndef seen\n\t.set seen, 1\nonce: .hword 9\n\t.else\n\t.byte 4\n\t.endif\n"
	if err := os.WriteFile(filepath.Join(dir, "part.inc"), []byte(part), 0o644); err != nil {
		t.Fatal(err)
	}
	load := func(w assemble.Wanted) (string, *syntax.File, bool) {
		return w.Name, syntax.Parse(part), w.Name == "part.inc"
	}
	var taken, refused, labels atomic.Int64
	inTurns(n, func(seed int) {
		if t.Failed() {
			return
		}
		seed += first
		m := &mixer{Rand: rand.New(rand.NewSource(int64(seed)))}
		m.f("\t.set k, 3\n\t.equ r0_, 8")
		for i := 20 + m.Intn(60); i > 0; i-- {
			m.statement()
		}
		if m.record {
			m.f("\t.text")
		}
		if m.proc == 1 {
			m.f("\t.cfi_endproc")
		}
		if m.fn > 0 {
			m.f("\t.fnend")
		}
		lines := strings.Split(m.b.String(), "\n")
		for range 40 {
			text := strings.Join(lines, "\n")
			ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv7-a", Flags: []string{"-I", dir}}, text)
			r, err := Analyze(context.Background(), &Input{Path: "test.s", File: syntax.Parse(".arch armv7-a\n" + text), Load: load})
			if err != nil {
				t.Error(err)
				return
			}
			bad := map[int]string{}
			inPart := false
			for _, d := range r.Each() {
				inPart = inPart || d.Severity == finding.Error && d.Path == "part.inc"
				if d.Severity == finding.Error && d.Path == "test.s" {
					bad[r.in.File.LineAt(d.Span.Start)] = d.Code + ": " + d.Message
				}
			}
			both := 0
			for _, l := range ref.ErrorLines {
				if bad[l] == "" {
					t.Errorf("seed %d line %d: silence: %q\n%s", seed, l, lines[l-1], text)
					return
				}
				lines[l-1] = ""
				both++
			}
			if both > 0 {
				refused.Add(int64(both))
				continue
			}
			if !ref.OK && inPart { // as in a record, which takes zeros only
				return
			}
			if problem := r.differs(ref, bad); problem != "" {
				t.Errorf("seed %d: %s\n%s", seed, problem, text)
				return
			}
			if !ref.OK {
				// Refused without a line.
				for l := range bad {
					lines[l-1] = ""
					refused.Add(1)
				}
				continue
			}
			taken.Add(1)
			labels.Add(int64(len(ref.Symbols)))
			return
		}
	})
	proof.Counted("directives: programs %d, lines refused by both %d, symbols compared %d", taken.Load(), refused.Load(), labels.Load())
	if !t.Failed() && (labels.Load() < int64(3*n) || refused.Load() < int64(n/20)) {
		t.Error("the generator is lopsided")
	}
}
