package reftest

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// Knob is an environment variable that changes what the tests do.
type Knob struct{ Name, Says string }

// The knobs. No test reads the environment by itself.
const (
	thorough      = "NARROWGAUGE_THOROUGH"
	seed          = "NARROWGAUGE_SEED"
	count         = "NARROWGAUGE_COUNT"
	Names         = "NARROWGAUGE_NAME"
	Archs         = "NARROWGAUGE_ARCH"
	Kinds         = "NARROWGAUGE_KINDS"
	Real          = "NARROWGAUGE_REAL"
	Archives      = "NARROWGAUGE_ARCHIVES"
	Sources       = "NARROWGAUGE_SOURCES"
	Disagreements = "NARROWGAUGE_DISAGREEMENTS"
	Show          = "NARROWGAUGE_SHOW"
	Server        = "NARROWGAUGE_SERVER"
	soak          = "NARROWGAUGE_SOAK"
	Record        = "NARROWGAUGE_RECORD"
)

// Knobs are all of them. DEVELOPERS.md has the table that is made from here.
var Knobs = []Knob{
	{thorough, "`1`: every proof takes all it can, not a part. Hours"},
	{seed, "a number: other random programs, statements and codes than the usual ones"},
	{count, "a number: how many programs, codes or changes a proof takes, in place of its own number; with `-run`, as proofs count different things"},
	{Names, "instructions, with commas: `TestAcceptT` tries only these, and more of each"},
	{Archs, "architectures, with commas: `TestAcceptT` and `TestDecodeT` take only these"},
	{Kinds, "kinds of changes, with commas: `TestRealMutants` makes only these"},
	{Real, "`all`, `more`, or packages with commas: the real sources to read, instead of newlib's"},
	{Archives, "a folder: where the archives of packages are that Debian does not install"},
	{Sources, "a folder: where what is unpacked of the packages stays"},
	{Disagreements, "a file: what no table of disagreements explains is written to it"},
	{Record, "`1`: what the assembler says to the cases of tables is written to `testdata/answers.gz`, in a whole run; remove the file first where cases have gone"},
	{soak, "a number: how many seconds `TestSoak` takes; 3600 before a release"},
	{Show, "a folder: the generated programs that fail are written to it"},
	{Server, "a program: the server that `editors/neovim/test.lua` and `editors/vscode/workbench/run.sh` start"},
}

// Text is the value of a knob, empty where it is not set. It panics where there
// is no such knob.
func Text(knob string) string {
	if !slices.ContainsFunc(Knobs, func(k Knob) bool { return k.Name == knob }) {
		panic("reftest: no knob " + knob)
	}
	return os.Getenv(knob)
}

// List is the value of a knob that is a list with commas, nil where it is not
// set.
func List(knob string) []string {
	if v := Text(knob); v != "" {
		return strings.Split(v, ",")
	}
	return nil
}

// number is the value of a knob that is a number, or else what is usual.
func number(knob string, usual int) int {
	v := Text(knob)
	if v == "" {
		return usual
	}
	n, err := strconv.Atoi(v)
	if err != nil || n < 0 {
		panic(fmt.Sprintf("reftest: %s=%s is no number", knob, v))
	}
	return n
}

// Soak is how long a soak test takes; an hour in a thorough run.
func Soak(usual time.Duration) time.Duration {
	return time.Duration(number(soak, Size(int(usual/time.Second), int(usual/time.Second), 3600))) * time.Second
}

// Thorough says whether the proofs take all that they can.
func Thorough() bool { return Text(thorough) != "" }

// Part says whether this run looks at less than usual, by -short or by a knob.
// What has to be true of the whole (each row is hit, each known disagreement
// has a case) is not asked of it.
func Part() bool {
	return testing.Short() && !Thorough() || Text(count) != "" || Text(Names) != "" || Text(Archs) != ""
}

// Size picks an amount: that for -short, the usual one, or that for
// NARROWGAUGE_THOROUGH=1, which wins. It has nothing to do with NARROWGAUGE_COUNT:
// it is for strides, and for amounts that are not a number of cases.
func Size(short, usual, all int) int {
	switch {
	case Thorough():
		return all
	case testing.Short():
		return short
	}
	return usual
}

// Count is Size for how many cases there are, where NARROWGAUGE_COUNT has the
// last word.
func Count(short, usual, all int) int { return number(count, Size(short, usual, all)) }

// Least is how many cases there have to be of something: n in a whole run. A part
// may have none by chance.
func Least(n int) int {
	if Part() {
		return 0
	}
	return n
}

// Sample is the whole list, or with -short one in so many of its elements: the
// same ones on each run, and others where NARROWGAUGE_SEED is set.
func Sample[T any](list []T, oneIn int) []T {
	return Share(list, oneIn, 1)
}

// Share is one in so many of a list's elements: with -short, and usually; the whole list with
// NARROWGAUGE_THOROUGH=1. They are the same ones on each run, and others where NARROWGAUGE_SEED
// is set.
func Share[T any](list []T, short, usual int) []T {
	oneIn := Size(short, usual, 1)
	if oneIn == 1 {
		return list
	}
	var out []T
	for i := Seed(0) % oneIn; i < len(list); i += oneIn {
		out = append(out, list[i])
	}
	return out
}

// Seed is where random numbers begin: usual, or what NARROWGAUGE_SEED says.
func Seed(usual int) int { return number(seed, usual) }

// Rand gives random numbers that are the same on every run: those of the pair
// (a, b), or others where NARROWGAUGE_SEED is set.
func Rand(a, b uint64) *rand.Rand {
	return rand.New(rand.NewPCG(a+uint64(Seed(0))<<32, b))
}

// A Proof is a test that compares many cases; it says how many, and how long
// it took.
type Proof struct {
	t     testing.TB
	start time.Time
}

// Begin starts the clock of a proof. A test that runs beside others calls
// t.Parallel first.
func Begin(t testing.TB) *Proof { return &Proof{t, time.Now()} }

// Counted logs what has been compared, for `go test -v` and .ci/run, which
// looks for the word "counted". The text says what before how many: "texts: 12".
func (p *Proof) Counted(format string, args ...any) {
	p.t.Helper()
	sample := ""
	if Part() {
		sample = ", a sample"
	}
	p.t.Logf("counted in %.1f s%s: %s", time.Since(p.start).Seconds(), sample, fmt.Sprintf(format, args...))
}
