package analysis

import (
	"context"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// offsetOf is the place of the symbol, -1 where it has none.
func offsetOf(r *Result, name string) int64 {
	if y := r.prog.SymbolOf(name); y != nil && y.Defined {
		return y.Value.N
	}
	return -1
}

func errorsOf(r *Result) (n int, text string) {
	for _, d := range r.Each() {
		if d.Severity == finding.Error {
			n++
			text += "\n\t" + d.Message
		}
	}
	return n, text
}

// TestIncbin compares verdict and size with the reference assembler's, for
// files of 10 and 0 bytes.
func TestIncbin(t *testing.T) {
	dir := t.TempDir()
	sizes := map[string]int64{"ten.bin": 10, "none.bin": 0}
	for name, n := range sizes {
		if err := os.WriteFile(filepath.Join(dir, name), make([]byte, n), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "folder.bin"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, args := range []string{
		`"ten.bin"`, `"ten.bin",3`, `"ten.bin", 3, 4`, `"ten.bin",,4`, `"ten.bin",3,8`, `"ten.bin",-1`, `"ten.bin",11`, `"ten.bin",10`,
		`"ten.bin",3,0`, `"ten.bin",0,-1`, `"ten.bin",x`, `"ten.bin",l-k`, `"ten.bin",`, `"ten.bin",3,`, `"ten.bin",end`, `"ten.bin" 3`,
		`"ten.bin",1,2,3`, `"ten.bin",0x7fffffffffffffff`, `"ten.bin",1,0x7fffffffffffffff`, `"ten.bin",11,0`, `"ten.bin",3,7`, `"ten.bin",3,N`,
		`"none.bin"`, `"none.bin",0`, `"none.bin",1`, `"none.bin",0,1`, `"no-such.bin"`, `"folder.bin"`, `""`, ``, `ten.bin`, `3`, `"ten.bin",1 2`,
	} {
		text := "k: .byte 1\nl: .incbin " + args + "\nend: .byte 2\n.set N, 2\n"
		ref := reftest.AssembleFile(t, reftest.Options{Flags: []string{"-I", dir}}, text)
		r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse(text), Size: func(w assemble.Wanted) (int64, bool) {
			n, ok := sizes[w.Name]
			return n, ok
		}})
		if err != nil {
			t.Fatal(err)
		}
		n, found := errorsOf(r)
		if ref.OK != (n == 0) {
			t.Errorf("%s: the assembler takes it: %v; here:%s", args, ref.OK, found)
			continue
		}
		if want := int64(ref.Object.Symbols["end"].Value); ref.OK && offsetOf(r, "end") != want {
			t.Errorf("%s: end at %d, want %d", args, offsetOf(r, "end"), want)
		}
	}
}

// TestIncbinUnknown: without sizes nothing depends on one.
func TestIncbinUnknown(t *testing.T) {
	r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse(".syntax unified\n.thumb\nbeq l\n.incbin \"x\"\nl: nop\n")})
	if err != nil {
		t.Fatal(err)
	}
	if n, text := errorsOf(r); n > 0 || r.prog.Sections[0].Exact {
		t.Errorf("exact %v, errors:%s", r.prog.Sections[0].Exact, text)
	}
}

// TestSymbolSettings compares programs under symbols from outside with the
// reference assembler's verdict and value.
func TestSymbolSettings(t *testing.T) {
	for _, tt := range []struct{ defs, text string }{
		{"N=3", ".word N"},
		{"N=0x1f", ".byte N"},
		{"N=010", ".byte N"},
		{"N=-1", ".word N"},
		{"N=3 N=4", ".byte N"},
		{"N=3", ".set N, 5|.byte N"},
		{"N=3", "N = 5|.byte N"},
		{"N=3", ".equ N, N+5|.byte N"},
		{"N=3", ".equiv N, 5"},
		{"N=3", "N: .byte 1"},
		{"N=3", "N .req r0"},
		{"N=3", ".ifdef N|.byte 7|.endif"},
		{"N=3", ".ifndef N|.byte 7|.else|.byte 9|.endif"},
		{"N=1", ".if N|.byte 7|.endif"},
		{"N=3", ".global N|.byte N"},
		{"N=3", ".rept N|.byte N|.endr"},
		{"N=300", ".syntax unified|.thumb|movs r0, #N"},
		{"N=200", ".syntax unified|.thumb|movs r0, #N"},
		{"N=3", ".syntax unified|.thumb|ldr r0, =N|b N"},
		{"N=3", ".word N - M"},
		{"N=3 M=2", ".byte N - M"},
	} {
		text := strings.ReplaceAll(tt.text, "|", "\n") + "\n"
		var flags []string
		set := Settings{Symbols: strings.Fields(tt.defs)}
		for _, d := range set.Symbols {
			flags = append(flags, "--defsym", d)
		}
		ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t", Flags: flags}, text+"end:\n")
		r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse(".syntax divided\n.arm\n" + text + "end:\n"), Set: &set})
		if err != nil {
			t.Fatal(err)
		}
		n, found := errorsOf(r)
		if ref.OK != (n == 0) {
			t.Errorf("%s, %s: the assembler takes it: %v; here:%s", tt.defs, tt.text, ref.OK, found)
			continue
		}
		if !ref.OK {
			continue
		}
		if want := int64(ref.Object.Symbols["end"].Value); offsetOf(r, "end") != want {
			t.Errorf("%s, %s: end at %d, want %d", tt.defs, tt.text, offsetOf(r, "end"), want)
		}
		if text, ok := strings.CutPrefix(tt.text, ".byte "); ok {
			f := syntax.Parse(".byte " + text)
			p := eval.New(r.prog)
			if v := p.Value(&f.Line(0).Stmts[0].Ops[0], &r.prog.Items[0]); byte(v.N) != ref.Object.Sections[".text"][0] {
				t.Errorf("%s, %s: %d, want % x", tt.defs, tt.text, v.N, ref.Object.Sections[".text"])
			}
		}
	}
}

func TestSymbolSettingErrors(t *testing.T) {
	for _, def := range []string{"", "N", "N=", "=3", "3=4", "N=x", "N=1+1", "N M=3", "N=99999999999999999999"} {
		_, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse("nop"), Set: &Settings{Symbols: []string{def}}})
		if e, ok := err.(*SettingError); !ok || e.Setting != "symbols" || !strings.Contains(e.Error(), strconv.Quote(def)) {
			t.Errorf("%q: %v", def, err)
		}
	}
	r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse(".equiv N, 3\n.word N\n"), Set: &Settings{Symbols: []string{"N=0xffffffff"}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, text := errorsOf(r); !strings.Contains(text, "by the settings") {
		t.Errorf("%s", text)
	}
	at := strings.LastIndex(r.in.File.Text(), "N")
	if h, _ := r.Hover(at); !strings.Contains(h.Markdown, "by the settings") || !strings.Contains(h.Markdown, "0xffffffff") {
		t.Errorf("%q", h.Markdown)
	}
	if d := r.Definition(at); d != nil {
		t.Errorf("%v", d)
	}
}
