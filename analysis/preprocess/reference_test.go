package preprocess

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// sources is a small set of files by name.
type sources map[string]string

// load gives Input.Load for a set of files without folders.
func (s sources) load(t testing.TB) func(from, name string, system bool) (string, *syntax.File, bool) {
	parsed := map[string]*syntax.File{}
	return func(from, name string, system bool) (string, *syntax.File, bool) {
		text, ok := s[name]
		if !ok {
			return "", nil, false
		}
		if parsed[name] == nil {
			parsed[name] = syntax.ParseAs(text, syntax.Dots)
		}
		return name, parsed[name], true
	}
}

func (s sources) process(t testing.TB, main string, defines ...string) *Unit {
	t.Helper()
	return Process(&Input{Path: main, File: syntax.ParseAs(s[main], syntax.Dots), Defines: defines, Load: s.load(t)})
}

// again is process, but for the second run with what the first one has kept.
func (s sources) again(t testing.TB, main string, defines ...string) *Unit {
	t.Helper()
	in := &Input{Path: main, File: syntax.ParseAs(s[main], syntax.Dots), Defines: defines, Load: s.load(t), Cache: &Cache{}, Remember: true}
	Process(in)
	return Process(in)
}

// outLine is a line that is not blank, where it is.
type outLine struct {
	file string
	line int // from 1
	text string
}

var marker = regexp.MustCompile(`^# (\d+) "((?:[^"\\]|\\.)*)"( \d)*$`)

// reference runs the reference preprocessor (cpp of GCC) over a file and gives
// its lines and messages. The test is skipped, or fails in CI, without it.
func (s sources) reference(t testing.TB, main string, defines ...string) (lines []outLine, messages string, ok bool) {
	t.Helper()
	reftest.Require(t, "cpp")
	dir := t.TempDir()
	for name, text := range s {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	args := []string{"-x", "assembler-with-cpp", "-undef", "-nostdinc", "-I.", "-funsigned-char", "-fmax-errors=0"}
	for _, d := range defines {
		args = append(args, "-D"+d)
	}
	cmd := exec.Command("cpp", append(args, main)...)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "LC_ALL=C")
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	if _, exit := err.(*exec.ExitError); err != nil && !exit {
		t.Fatal(err)
	}
	file, n := "", 0
	for _, l := range strings.Split(out.String(), "\n") {
		if m := marker.FindStringSubmatch(l); m != nil {
			n, _ = strconv.Atoi(m[1])
			file = m[2]
			continue
		}
		if l := squeeze(l, false); l != "" && file != "<command-line>" && !strings.HasPrefix(l, "#ident ") && !strings.HasPrefix(l, "#pragma ") {
			if k := len(lines) - 1; k >= 0 && lines[k].file == file && lines[k].line == n {
				lines[k].text += " ; " + l // split by _Pragma
			} else {
				lines = append(lines, outLine{file, n, l})
			}
		}
		n++
	}
	return lines, errs.String(), err == nil
}

// squeeze takes comments out of a line and makes any blanks one. open says
// that the line begins inside a comment.
func squeeze(s string, open bool) string {
	var b strings.Builder
	for p := 0; p < len(s) || open; {
		if open {
			k := strings.Index(s[p:], "*/")
			if k < 0 {
				break
			}
			p += k + 2
			open = false
			b.WriteByte(' ')
			continue
		}
		c := s[p]
		switch {
		case c == '"' || c == '\'':
			end, _ := quoteEnd(s, p, false)
			b.WriteString(s[p:end])
			p = end
			continue
		case strings.HasPrefix(s[p:], "//"):
			p = len(s)
			continue
		case strings.HasPrefix(s[p:], "/*"):
			open = true
			p += 2
			continue
		}
		b.WriteByte(c)
		p++
	}
	out := b.String()
	if c := syntax.Parse(out).Line(0).Comment; c >= 0 && int(c) < len(out) && out[c] != '/' {
		out = out[:c]
	}
	return strings.Join(strings.FieldsFunc(out, func(r rune) bool { return r == ' ' || r == '\t' || r == '\f' || r == '\v' || r == 0 }), " ")
}

// list gives the lines of a unit and of what it includes, in the order in
// which an assembler would read them.
func list(u *Unit, out []outLine) []outLine {
	for i := 0; i < u.File.NumLines(); i++ {
		l := u.File.Line(i)
		if s := squeeze(l.Text, l.StartsInComment()); s != "" {
			out = append(out, outLine{u.Path, i + 1, s})
		}
		if inc := u.Includes[i]; inc != nil && inc.Unit != nil {
			out = list(inc.Unit, out)
		}
	}
	return out
}

// bad says whether a unit, or one included, has a problem that compilers do
// not go on with.
func bad(u *Unit) (all []string) {
	for _, p := range u.Problems {
		if !p.Mild {
			all = append(all, fmt.Sprintf("%s:%d: %s", u.Path, u.Raw.LineAt(p.Start)+1, p.Message))
		}
	}
	for i := 0; i < u.Raw.NumLines(); i++ {
		if inc := u.Includes[i]; inc != nil && inc.Unit != nil {
			all = append(all, bad(inc.Unit)...)
		}
	}
	return all
}

// odd are sources at the edges of the language, each one compared with the
// reference.
var odd = []string{
	"#define N 4\n nop N @ don't N\n .ascii \"open N\n nop N\n b\\@: N \\\n more N\n# a comment N\n#N\n",
	"#define N 4\n @ /* N\n N */ N // N '\n 'N' 'N N' N\n",
	"#define F(x) <x>\n  F  (3) F \n F\n F\n\n (5) F /* \n */ (6)\n F\n#define Q\n (7)\n",
	"#define S(x) #x # 3 #y x##1\n S(a b) S( \"a\\n\" 'x' ) S() S( a  /* c */ b )\n",
	"#define N 4\n `N $N N$ .N N.x 1N \\N 0x1e+N 1.N N:N @N\n",
	"#define f g\n#define g f\n f g\n g f\n",
	"#define foo foo bar\n foo\n#define a b\n#define b a c\n a b\n",
	"#define M(x) [x] __LINE__\n M(\n __LINE__) tail\n M(1) M(2\n)\n",
	" a \\   \n b\n c \\\n\\\n d\n",
	" x /* c\n d */ y\n z\n /* c */ w /* d\n e */\n v\n",
	"/* c\n */ #define X 3\n X\n#define Y /* a\n b */ 5\n Y X\n",
	"#if 0\n#elifdef __ASSEMBLER__\n yes\n#else\n no\n#endif\n#if 0\n x\n#elifndef NO\n y\n#elif 1\n z\n#else\n w\n#endif\n",
	"#define f(x) x\n f(1\n#if 0\n zz\n#else\n 2\n#endif\n) t\n",
	"#ifdef __has_include\nHI\n#endif\n#if __has_include(\"nothing.h\")\n a\n#else\n b\n#endif\n",
	"#define t(x,y,z) x ## y ## z\n t(1,2,3) t(,4,5) t(6,,7) t(8,9,) t(10,,) t(,11,) t(,,12) t(,,)\n",
	"#define xstr(s) str(s)\n#define str(s) # s\n#define debug(s, t) printf(\"x\" # s \"= %d, x\" # t \"= %s\", x ## s, x ## t)\n#define INCFILE(n) vers ## n\n#define glue(a, b) a ## b\n#define xglue(a, b) glue(a, b)\n#define HIGHLOW \"hello\"\n#define LOW LOW \", world\"\n debug(1, 2);\n fputs(str(strncmp(\"abc\\0d\", \"abc\", '\\4') == 0) str(: @\\n), s);\n xstr(INCFILE(2).h)\n glue(HIGH, LOW);\n xglue(HIGH, LOW)\n",
	"#define x 3\n#define f(a) f(x * (a))\n#undef x\n#define x 2\n#define g f\n#define z z[0]\n#define h g(~\n#define m(a) a(w)\n#define w 0,1\n#define t(a) a\n#define p() int\n#define q(x) x\n#define r(x,y) x ## y\n f(y+1) + f(f(z)) % t(t(g)(0) + t)(1);\n g(x+(3,4)-w) | h 5) & m\n(f)^m(m);\n p() i[q()] = { q(1), r(2,3), r(4,), r(,5), r(,) };\n",
	"#define hash_hash # ## #\n#define mkstr(a) # a\n#define in_between(a) mkstr(a)\n#define join(c, d) in_between(c hash_hash d)\n join(x, y)\n",
	"#define v(f, ...) f(__VA_ARGS__) f(a, ## __VA_ARGS__)\n v(k) v(k,) v(k,1) v(k,1,2)\n#define w(x...) x, ## x\n w() w(1,2)\n#define o(...) [a, ## __VA_ARGS__]\n o() o(1) o(,)\n",
	"#define v(f, ...) f(0 __VA_OPT__(,) __VA_ARGS__) __VA_OPT__(x y z)\n v(k) v(k,) v(k,1) v(k,1,2)\n",
	"#define E\n E E a E b E\n[E] E[ -E- <E< .E. a.E b:E: E foo\nE foo\nE:foo\n",
	"#define p(x) -x\n#define q +\n p(-1) -p(1) q+ +q q q p(p(1)) <q< q= =q\n",
	"#define C(x,y) x##y\n C(.,L) C(-,>) C(+,1) C(/,/) C(/,*) C(1,f) C(r,1) C(,x) C(\"a\",\"b\") .C(L,1): C(#,1) C([,])\n",
	"#define X # not a directive\nX\n X\n#define H #\nH define Y 1\n Y\n",
	"#if 1 +\n#endif\n", "#if\n#endif\n", "#if 1 2\n#endif\n", "#if (1\n#endif\n", "#if 1)\n#endif\n", "#if 1/0\n#endif\n", "#if 0 && 1/0\n#endif\n", "#if 1 || 1/0\n a\n#endif\n",
	"#if 1 ? 2 : 3 == 2\n a\n#endif\n#if 0 ? 1/0 : 2\n b\n#endif\n#if 1 ? 2\n#endif\n", "#if 1 : 2\n#endif\n",
	"#if \"a\"\n#endif\n", "#if 'a' == 97 && '\\n' == 10 && '\\377' > 0 && 'ab' == 24930 && '\\x41' == 65\n y\n#else\n n\n#endif\n", "#if ''\n#endif\n",
	"#if -1 > 0u\n y\n#endif\n#if -1 < 0\n z\n#endif\n#if 0xffffffffffffffff > 1\n w\n#endif\n#if 1 << 63 < 0\n v\n#endif\n#if -8 >> 1 == -4\n u\n#endif\n#if 1 << -1 == 0\n t\n#endif\n#if 1 << 64 == 0\n s\n#endif\n",
	"#if 1.0\n#endif\n", "#if 08\n#endif\n", "#if 0x\n#endif\n", "#if 1f\n#endif\n", "#if 10UL == 10 && 0b11 == 3 && 017 == 15 && 0x1F == 31\n y\n#endif\n", "#if 1lL\n#endif\n", "#if 1Lu\n y\n#endif\n", "#if 0b2\n#endif\n", "#if 18446744073709551616\n y\n#endif\n",
	"#if defined X || defined(Y)\n#else\n n\n#endif\n#define Y\n#if defined X || defined(Y)\n y\n#endif\n#if defined\n#endif\n", "#if defined(\n#endif\n", "#if defined(X\n#endif\n", "#if defined 1\n#endif\n", "#define D defined X\n#if D\n#else\n n\n#endif\n",
	"#if FOO(1)\n#endif\n", "#if FOO bar\n#endif\n", "#if 1, 2\n y\n#endif\n", "#if 0, 0\n#else\n n\n#endif\n", "#if (1, 2) == 2\n y\n#endif\n", "#if a = 1\n#endif\n", "#if @\n#endif\n", "#if 1 @ comment\n#endif\n", "#define Z\n#if Z\n#endif\n", "#if ~0 == -1 && !1 == 0 && - - 1 == 1 && +1\n y\n#endif\n",
	"#else\n", "#endif\n", "#elif 1\n", "#if 1\n", "#if 1\n#else\n#else\n#endif\n", "#if 1\n#else\n#elif 1\n#endif\n", "#if 0\n#else\n#else\n x\n#endif\n", "#if 0\n#if 1\n#else\n#else\n#endif\n#endif\n", "#if 0\n#if 1 +\n#elif\n#endif\n#endif\n", "#if 1\n#elif\n#endif\n", "#if 0\n#elif\n#endif\n", "#if 1\n#elif 1 +\n#endif\n",
	"#ifdef\n x\n#endif\n", "#ifndef\n x\n#endif\n", "#ifdef 3\n x\n#else\n y\n#endif\n", "#ifdef A B\n x\n#endif A\n", "#ifndef A @ comment\n x\n#else @ y\n#endif @ z\n", "#if 0\n#elifdef\n x\n#endif\n",
	"#define\n", "#define 3 4\n", "#define defined 1\n", "#define A(x\n", "#define A(x,) 1\n", "#define A(x,x) 1\n", "#define A(1) 1\n", "#define A(x y) 1\n", "#define A(...,x) 1\n", "#define A(x..., y) 1\n", "#define A() [x]\n A() A( ) A\n", "#define A ## b\n", "#define A b ##\n", "#define A(x) x ##\n", "#define A b ## ## c\n A\n", "#define A(__VA_ARGS__) 1\n", "#define A#4\n A\n", "#define A+4\n A\n", "#define A\"x\"\n A\n",
	"#define A 1\n#define A 1\n A\n#define A 2\n A\n", "#define A(x) x\n#define A(y) y\n A(1)\n", "#define __LINE__ 7\n __LINE__\n", "#define __FILE__ x\n __FILE__\n", "#undef\n", "#undef A\n", "#undef 1\n", "#undef A B\n", "#undef defined\n", "#undef __LINE__\n __LINE__\n",
	"#define F(x) [x]\n F(1,2)\n", "#define F(x,y) [x]\n F(1)\n", "#define F() [x]\n F(1)\n", "#define F(x) [x]\n F() F( )\n", "#define F(x) [x]\n F(1\n", "#define F(x) [x]\n F((1,2)) F((1),2)\n", "#define F(x,...) [x]\n F() F(1) F(1,)\n", "#define F(x,y) [x|y]\n F(,) F((,),)\n F([1,2])\n", "#define F(x) [x]\n @ F(1,2)\n", "#define F(x) [x]\n @ it's F(1,2)\n", "#define F(x) [x]\n F(1\n# comment\n 2)\n",
	"#error stop\n x\n", "#if 0\n#error stop\n#endif\n x\n", "#warning hm\n x\n", "#error\n", "#error don't\n",
	"#pragma once\n x\n", "#pragma something else\n x\n", "#line 100\n __LINE__\n __LINE__\n", "#line 7 \"other\"\n", "#line x\n", "#line 0x10\n", "#define L 30\n#line L\n __LINE__\n", "#ident \"x\"\n y\n", "#ident x\n",
	"#include\n", "#include \"\"\n", "#include x\n", "#include <a\n", "#include \"a\n", "#include \"missing.h\"\n x\n", "#include <missing.h>\n x\n",
	"/* open\n x\n", " x /* open\n y\n", "#if 0\n /* \n#endif\n */\n#else\n y\n#endif\n", "#if 0\n don't /* \n#endif\n y */\n", "// c \\\n x\n y\n", " x // c \\\n y\n z\n", " x @ c \\\n y\n z\n",
	"#define A x // c\n A y\n#define B(x) x /* c\n d */ + x\n B(1) y\n", "#def\\\nine A 4\n A A\\\nB\n A\\\n\n", "#\n # \n#/* c */\n x\n", "#define A 4\n#unknown A\n # A\n#1 A\n", "\\\n#define A 4\n A\n", " \\\n\\\n x\n", " x \\", "#define A 4 \\", "#if 1 \\\n && 1\n x\n#endif\n",
	"#define A\r\n A x\r\n x \\\r\n y\r\n#define B 1 /* c\r\n*/ 2\r\n B\r\n", "#define E(x) x\n E(E)(1) E(E(E))(2) E(E (3))\n E(E)\n(4)\n", "#define NIL(xxx) xxx\n#define G_0(arg) NIL(G_1)(arg)\n#define G_1(arg) NIL(arg)\n G_0(42)\n",
	"#define f(x) x f\n f(1)(2)(3)\n#define g() h\n#define h() g\n g()()()()\n", "#define AA BB\n#define BB AA()\n#define AA() x\n AA BB\n", "#define q(x) #x\n q('a\"') q(\"\\\") q(\\) q(@\\n) q(don't)\n", "#define q(x) #x\n q(a\n b)\n q( a \\\n b )\n",
	" __COUNTER__ __COUNTER__\n#define U(x) x##__COUNTER__\n U(a) __COUNTER__ __INCLUDE_LEVEL__ __FILE__ __BASE_FILE__ __ASSEMBLER__\n", "L'a' L\"x\" .L\"y\" uL'b' L '\n", "#define L long\n L'a' L L\"x\"\n", "\xc3\xa9 \xff N\n#define N \xc3\xa9x\n N\n",
	"#define I #4\n#define J(x) mov x, #4\n#define K(x) mov r0, # x\n adds r0, I\n J(r1)\n K(4)\n#define M(x) mov r0, #(x)\n M(4)\n", "#define push_all() push {r4-r7} ; mov r4, r8\n push_all()\n", "#define ENTRY(n) .globl n ; .thumb_func ; n:\nENTRY(foo)\n bx lr\n", "#ifdef A\n'\n#else\n\"\n#endif\n x\n",
	"#if #machine(arm)\n x\n#elif #machine\n y\n#else\n z\n#endif\n", "#if #\n#endif\n", "#if #1\n#endif\n", "#if #a(\n#endif\n", "#if #a()\n#endif\n", "#if #a((b) c)\n#endif\n", "#if #a((b) == 0\n y\n#endif\n",
	" __has_include(\"x\")\n", "#if 1uLl\n#endif\n", "#if 1LLu && 1ull && 1lu\n y\n#endif\n", "#if 1ulL\n#endif\n",
	"#define X 1\n#pragma push_macro(\"X\")\n#undef X\n#define X 2\n X\n#pragma pop_macro(\"X\")\n X\n#pragma pop_macro(\"X\")\n X\n#pragma push_macro(\"Y\")\n#define Y 3\n Y\n#pragma pop_macro(\"Y\")\n Y\n#ifdef Y\n no\n#endif\n",
	"#pragma push_macro(A)\n", "#pragma push_macro\n x\n", "#pragma pop_macro(\"NEVER\")\n x\n", "#pragma pop_macro()\n", "#pragma push_macro(\"A\") x\n y\n", "#define X 1\n_Pragma(\"push_macro(\\\"X\\\")\") nop X\n#undef X\n X _Pragma(\"pop_macro(\\\"X\\\")\")\n X\n",
	"_Pragma(3)\n", "0 _Pragma!0\n", "a _Pragma 5 6\n+\n", "#define F(x) [x]\n F(_Pragma) b\n", "#define F(x) [x]\n F(_Pragma!) b\n", "#define F(x) [x]\n F(_Pragma() b\n c\n", "_Pragma x\n", "_Pragma\n", " a _Pragma(\"foo\") b\n", "#if _Pragma(\"x\")\n#endif\n", "#ifdef _Pragma\n y\n#endif\n#if defined _Pragma\n z\n#endif\n", "#define _Pragma x\n", "#undef _Pragma\n", "_Pragma(L\"foo\") x\n", "_Pragma(\"\") x\n", "_Pragma(\"a\" \"b\")\n",
	"#define P(x) _Pragma(#x)\n P(once) a\n mov r0, P(foo) r1\n P (foo)\n x P(1) P(2) y\n", "#define S(x) #x\n S(_Pragma(\"a\"))\n", "#define F(x) [x]\n F(_Pragma(\"bar\") 3)\n F(1\n#pragma foo\n 2)\n", "#define T(x) x ## 1 x\n T(_Pragma(\"a\"))\n",
	"#pragma GCC poison zork\n x\n", "#pragma GCC poison zork\n x zork\n", "#pragma GCC poison zork\n#ifdef zork\n#endif\n", "#define zork 1\n#define M zork\n#pragma GCC poison zork\n M\n#if 0\n zork\n#endif\n", "#pragma GCC poison zork 3\n", "#pragma GCC warning \"hey\"\n x\n", "#pragma GCC error \"hey\"\n x\n", "#pragma GCC warning \"\"\n x\n", "#pragma GCC error \"\"\n x\n", "#error\n", "#pragma GCC system_header\n x\n", "#pragma GCC poison a\n#pragma GCC poison a\n b\n",
	"%:define A 4\n A\n#define B %:%: x\n B\n <: a :> <% %>\n", "??=define Q 1\n Q ??( 1\n Q ??/\n x\n", "#define A 1\n A %:%: A %: A\n", "#define E\n/* a\n */E lsl x\n/* a\n*/ E\n y\n",
	"#define A B\n#define B C\n#define C 1 +x\n A B C -A- A(A)\n.A+A\n#undef C\n A B\n#define C A\n A B C\n#define S(x) #x [x]\n S(A) S( A B )\n",
	"#define A B\n#define B C\n#define C (D B)\n#define D A\n A D B\n#define F(x) x A\n F(A) F(F)(D)\n#define G F\n#define H G\n H(1) H\n (2) H\n",
	"#define A B\n#define B C\n#define C\n x A y\nA lsl\n-A-\n#define T(a,b) a ## b A\n T(A,B) T(,B) T(x,A)\n#if A +1 == 1\n y\n#endif\n",
	"#define A B\n#define B C\n#define C 3\n#define K (A)\n#define L K\n L K A\n#pragma push_macro(\"B\")\n#undef B\n#define B L\n A L\n#pragma pop_macro(\"B\")\n A L __LINE__\n#define C __LINE__\n#undef C\n#define C __LINE__\n A L\n A\n#pragma GCC poison C\n x\n",
	"#import \"missing.h\"\n", "#define A(x) x\n A(\n#define B 5\n B) B\n", "#define A(x) x\n A(\n#undef A\n 1) A\n", "#define EMPTY\n EMPTY # define A 1\n A\n", "#define s(x) #x\n s(  a  ) s(a/**/b) s(a\tb) s(\"  \") s(x ## y)\n", "#define c(a,b) a ## b\n c(c,c)(1,2) c(c(1,2),3)\n#define X12 y\n c(X,12)\n", "#define x(y) y\n#define y x\n x(y)(3) y(4)\n", "#if 0xFFFFFFFFFFFFFFFFF\n y\n#endif\n", "#if 9223372036854775808 > 0\n y\n#endif\n#if -9223372036854775807 - 1 < 0\n z\n#endif\n#if 5 % -3 == 2 && -5 / 2 == -2\n w\n#endif\n#if (2 || 3) != 1\n v\n#endif\n#if 1 ? 0 : 0u - 1\n#else\n u\n#endif\n#if -1 < ( 0 ? 0u : 1)\n#else\n t\n#endif\n",
}

func TestOdd(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	some := reftest.Sample(odd, 9)
	for k, text := range some {
		s := sources{"main.S": text}
		want, messages, ok := s.reference(t, "main.S", "CMD=7", "SQ(x)=x*x", "FLAG")
		u := s.process(t, "main.S", "CMD=7", "SQ(x)=x*x", "FLAG")
		if got := bad(u); (len(got) == 0) != ok {
			t.Errorf("%d %q: the reference says %v, we %q\n%s", k, text, ok, got, messages)
		} else if ok {
			got := list(u, nil)
			if strings.Contains(text, "#line") {
				for _, l := range [][]outLine{got, want} {
					for k := range l {
						l[k].file, l[k].line = "", 0 // #line changes them there
					}
				}
			}
			compare(t, text, got, want)
		}
		checkUnit(t, u)
	}
	proof.Counted("odd sources: %d", len(some))
}

func compare(t *testing.T, what string, got, want []outLine) bool {
	t.Helper()
	for i := 0; i < len(got) || i < len(want); i++ {
		g, w := outLine{}, outLine{}
		if i < len(got) {
			g = got[i]
		}
		if i < len(want) {
			w = want[i]
		}
		if g != w {
			t.Errorf("%q:\n got %s\nwant %s", what, g, w)
			return false
		}
	}
	return true
}

// checkUnit verifies what every unit promises.
func checkUnit(t *testing.T, u *Unit) {
	t.Helper()
	n := u.Raw.NumLines()
	if u.File.NumLines() != n || u.File.Text() != u.Raw.Text() {
		t.Fatalf("%s has %d lines, not %d", u.Path, u.File.NumLines(), n)
	}
	size := len(u.Raw.Text())
	for i := 0; i < n; i++ {
		l := u.File.Line(i)
		if l == nil {
			t.Fatalf("%s:%d has no line", u.Path, i+1)
		}
		if u.change(i) == nil {
			if l.Text != "" && l.Text != u.Raw.Line(i).Text {
				t.Fatalf("%s:%d %q became %q, and nobody knows how", u.Path, i+1, u.Raw.Line(i).Text, l.Text)
			}
			if l != u.Raw.Line(i) && l.Text == u.Raw.Line(i).Text && l.StartsInComment() == u.Raw.Line(i).StartsInComment() && l.Text != "" {
				t.Fatalf("%s:%d %q is not shared", u.Path, i+1, l.Text)
			}
		}
		checkColumns(t, u, i)
	}
	for _, p := range u.Problems {
		if p.Start < 0 || p.End < p.Start || p.End > size || p.Message == "" || p.Kind == 0 {
			t.Fatalf("%s: problem %+v in %d bytes", u.Path, p, size)
		}
	}
	last := 0
	for _, s := range u.Inactive {
		if s.Start < last || s.End <= s.Start && s.End != size || s.End > size {
			t.Fatalf("%s: inactive %v behind %d", u.Path, s, last)
		}
		last = s.End
	}
	for _, k := range u.allMarks() {
		if got := u.Raw.Text()[k.start:k.end]; got != k.m.Name && !strings.Contains(got, "\\") {
			t.Fatalf("%s: %q marked as macro %s", u.Path, got, k.m.Name)
		}
	}
	for _, inc := range u.Includes {
		if inc.Start < 0 || inc.End > size || inc.End < inc.Start {
			t.Fatalf("%s: include at %d–%d", u.Path, inc.Start, inc.End)
		}
		if inc.Unit != nil {
			checkUnit(t, inc.Unit)
		}
	}
}

// copied says whether columns [a,b) of a changed line are in one piece.
func copied(c *lineMap, a, b int) bool {
	for k := range c.segs {
		if s := &c.segs[k]; int(s.out) <= a && b <= int(s.outEnd) {
			return true
		}
	}
	return false
}

// checkColumns verifies that the tokens of a changed line that were copied are
// found in the raw file, and that the way back leads to them.
func checkColumns(t *testing.T, u *Unit, i int) {
	t.Helper()
	l := u.File.Line(i)
	size := len(u.Raw.Text())
	c := u.change(i)
	if c == nil {
		return
	}
	at := int32(0)
	raw := 0
	for k := range c.segs {
		s := &c.segs[k]
		if s.out < at || s.outEnd < s.out || int(s.outEnd) > len(l.Text) || s.raw < raw || s.rawEnd < s.raw || s.rawEnd > size {
			t.Fatalf("%s:%d %q: piece %+v behind %d, %d", u.Path, i+1, l.Text, *s, at, raw)
		}
		at, raw = s.outEnd, s.rawEnd
	}
	for p := 0; p < len(l.Text); {
		if class[l.Text[p]] == cBlank {
			p++
			continue
		}
		kind, end := lexToken(l.Text, p, false)
		for kind == kOther && end > p+1 && l.Text[p] >= 0x80 && !copied(c, p, end) {
			end-- // bytes that no blank keeps apart, with a macro between them that leaves nothing
		}
		span, m := u.Columns(i, int32(p), int32(end))
		if span.Start < 0 || span.End < span.Start || span.End > size {
			t.Fatalf("%s:%d %q: columns %d–%d are at %v", u.Path, i+1, l.Text, p, end, span)
		}
		got := u.Raw.Text()[span.Start:span.End] // with a backslash, it may be another token
		if m == nil && got != l.Text[p:end] && !strings.Contains(got, "\\") {
			t.Fatalf("%s:%d %q: %q is from %q\n%s", u.Path, i+1, l.Text, l.Text[p:end], got, u.Raw.Text())
		}
		if m != nil && (len(got) < len(m.Name) || !strings.Contains(got, "\\") && got[:len(m.Name)] != m.Name && !strings.Contains(got, m.Name)) {
			t.Fatalf("%s:%d %q: %q is from %q of macro %s", u.Path, i+1, l.Text, l.Text[p:end], got, m.Name)
		}
		if line, col, ok := u.At(span.Start); m == nil && !strings.Contains(got, "\\") && (!ok || line != i || col != int32(p)) {
			t.Fatalf("%s:%d %q: %q leads to %d, %d, %v and not back", u.Path, i+1, l.Text, l.Text[p:end], line, col, ok)
		}
		p = end
	}
}

func (l outLine) String() string { return fmt.Sprintf("%s:%d %q", l.file, l.line, l.text) }
