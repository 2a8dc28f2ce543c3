package preprocess

import (
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
)

// plain is a source of n lines that uses no macros.
func plain(n int) string {
	lines := []string{
		"\tpush\t{r4, r5, lr}\t@ keep what the caller needs\n",
		"\tldr\tr4, =points_table\n",
		"next_point:\n",
		"\tldrb\tr0, [r4, #0]\n",
		"\tadds\tr4, r4, #1\n",
		"\tcmp\tr0, #0xff\n",
		"\tbne\tnext_point\n",
		"\t.word\tsignal_state + 4, 0x20000000\t@ invented\n",
		"\tmovs\tr1, #'a'\n",
		"\tpop\t{r4, r5, pc}\n",
	}
	var b strings.Builder
	for k := 0; k < n; k++ {
		b.WriteString(lines[k%len(lines)])
	}
	return b.String()
}

// BenchmarkPlain is a file of 100,000 lines without any macro, once parsed and
// once preprocessed: the ratio is what the preprocessor costs.
func BenchmarkPlain(b *testing.B) {
	text := plain(100_000)
	b.Run("parse", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			syntax.Parse(text)
		}
	})
	b.Run("preprocess", func(b *testing.B) {
		f := syntax.Parse(text)
		b.ReportAllocs()
		for b.Loop() {
			Process(&Input{Path: "a.S", File: f})
		}
	})
	b.Run("preprocess, some macros", func(b *testing.B) {
		// As plain, but the lines have to go into a list of their own.
		f := syntax.Parse("#define STATE 0x20000000\n#define LED(n) (1 << (n))\n" + text + "\tldr r0, =STATE\n\tmovs r1, #LED(3)\n")
		b.ReportAllocs()
		for b.Loop() {
			Process(&Input{Path: "a.S", File: f})
		}
	})
}

// BenchmarkCalls is a file of 5,000 lines that all use macros.
func BenchmarkCalls(b *testing.B) {
	var s strings.Builder
	s.WriteString("#define REG(n) r##n\n#define OFF 4\n#define LOAD(a, b) ldr REG(a), [REG(b), #OFF]\n")
	for k := 0; k < 5000; k++ {
		fmt.Fprintf(&s, "\tLOAD(%d, %d)\n", k%8, k/8%8)
	}
	text := s.String()
	f := syntax.Parse(text)
	b.Run("parse", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			syntax.Parse(text)
		}
	})
	for _, cache := range []*Cache{nil, {}} {
		name := "no cache"
		if cache != nil {
			name = "cache"
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Process(&Input{Path: "a.S", File: f, Cache: cache})
			}
		})
	}
}

// BenchmarkHeader is a file that includes a header of 5,000 definitions.
func BenchmarkHeader(b *testing.B) {
	var h strings.Builder
	h.WriteString("#ifndef HEADER\n#define HEADER\n")
	for k := 0; k < 5000; k++ {
		fmt.Fprintf(&h, "#define TRACK_%d_STATE (TRACK_BASE + 0x%x) /* register %d, invented */\n", k, 4*k, k)
	}
	h.WriteString("#endif\n")
	header := syntax.Parse(h.String())
	f := syntax.Parse("#include \"track.h\"\n\tldr r0, =TRACK_7_STATE\n")
	load := func(from, name string, system bool) (string, *syntax.File, bool) { return name, header, true }
	b.Run("parse", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			syntax.Parse(h.String())
		}
	})
	b.Run("preprocess", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			Process(&Input{Path: "a.S", File: f, Load: load})
		}
	})
}
