package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// A judge runs tests against mutants.
type judge struct {
	root    string
	tags    string
	skip    string // pattern of tests that are left out
	factor  float64
	slack   time.Duration
	order   []string            // packages with tests, from the bottom up
	depends map[string][]string // by package, all that it and its tests import
	work    string              // folder for overlays and test programs

	all     *together
	overlay string // of all
	lock    sync.Mutex
	built   map[string]*program   // of all, by package
	times   map[string]*durations // by package
	kills   map[killer]int        // how many mutants have been killed so
}

// A killer is a test of package pkg that has killed mutants of package of.
type killer struct{ of, pkg, test string }

// A program is the tests of a package, compiled.
type program struct {
	once   sync.Once
	path   string
	output string // what the compiler has to say, if it fails
	err    error
}

// Durations are what the tests of a package take without a mutant.
type durations struct {
	All   time.Duration
	Tests map[string]time.Duration // those on top
}

// A verdict is what the tests had to say.
type verdict struct {
	State  string // killed, survived or error
	Pkg    string // the package whose test failed
	Test   string // the first test that failed, or empty: the package as a whole
	Output string `json:",omitempty"` // the last lines, where no test has a name
	Slow   bool   `json:",omitempty"` // killed as it took too long
	First  bool   `json:",omitempty"` // survived the quick tests, and no others were asked
}

// newJudge asks the go command which packages depend on which.
func newJudge(root, tags, skip string) (*judge, error) {
	j := &judge{root: root, tags: tags, skip: skip, depends: map[string][]string{}, built: map[string]*program{}, times: map[string]*durations{}, kills: map[killer]int{}}
	cmd := exec.Command("go", "list", "-tags", tags, "-json=ImportPath,Dir,Deps,TestImports,XTestImports,TestGoFiles,XTestGoFiles", "./...")
	cmd.Dir, cmd.Stderr = root, os.Stderr
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	abs, err := absolute(root)
	if err != nil {
		return nil, err
	}
	byPath, folder := map[string]*goPackage{}, map[string]string{}
	for d := json.NewDecoder(bytes.NewReader(out)); d.More(); {
		p := new(goPackage)
		if err := d.Decode(p); err != nil {
			return nil, fmt.Errorf("go list: %w", err)
		}
		rel, ok := below(abs, p.Dir)
		if !ok {
			continue
		}
		byPath[p.ImportPath], folder[p.ImportPath] = p, "./"+rel
		if len(p.TestGoFiles)+len(p.XTestGoFiles) > 0 {
			j.order = append(j.order, "./"+rel)
		}
	}
	for path, p := range byPath {
		all := map[string]bool{}
		for _, from := range slices.Concat(p.Deps, p.TestImports, p.XTestImports) {
			if q := byPath[from]; q != nil {
				all[folder[from]] = true
				for _, dep := range q.Deps {
					if folder[dep] != "" {
						all[folder[dep]] = true
					}
				}
			}
		}
		for dep := range all {
			j.depends[folder[path]] = append(j.depends[folder[path]], dep)
		}
	}
	// What depends on more comes later: that puts isa before analysis.
	slices.SortFunc(j.order, func(a, b string) int {
		if d := len(j.depends[a]) - len(j.depends[b]); d != 0 {
			return d
		}
		return strings.Compare(a, b)
	})
	j.work, err = os.MkdirTemp("", "mutants")
	return j, err
}

// judges are the packages whose tests are asked about a change of pkg.
func (j *judge) judges(pkg string) []string {
	var all []string
	if slices.Contains(j.order, pkg) {
		all = append(all, pkg)
	}
	for _, p := range j.order {
		if p != pkg && slices.Contains(j.depends[p], pkg) && !strings.HasPrefix(p, "./isa/reftest") {
			all = append(all, p)
		}
	}
	return all
}

// together compiles the mutants together where that can be done.
func (j *judge) together(t *tree, all []*applied) (err error) {
	if j.all, err = compileTogether(t, all); err != nil {
		return err
	}
	j.overlay, err = j.writeOverlay("all", j.all.files)
	return err
}

// writeOverlay writes changed files and the description of them that the go
// command wants.
func (j *judge) writeOverlay(name string, files map[string][]byte) (string, error) {
	dir := filepath.Join(j.work, name)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return "", err
	}
	abs, err := absolute(j.root)
	if err != nil {
		return "", err
	}
	replace := map[string]string{}
	for i, path := range slices.Sorted(maps.Keys(files)) {
		changed := filepath.Join(dir, strconv.Itoa(i)+".go")
		if err := os.WriteFile(changed, files[path], 0o666); err != nil {
			return "", err
		}
		replace[filepath.Join(abs, filepath.FromSlash(path))] = changed
	}
	text, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		return "", err
	}
	overlay := filepath.Join(dir, "overlay.json")
	return overlay, os.WriteFile(overlay, text, 0o666)
}

// environment has an overlay for the go command, that of tests that build a
// program too, and the number of a mutant, 0 for none.
func environment(overlay string, number int) []string {
	path := os.Getenv("PATH")
	if number > 0 {
		path += string(os.PathListSeparator) + marker + strconv.Itoa(number)
	}
	return append(os.Environ(), strings.TrimSpace("GOFLAGS="+os.Getenv("GOFLAGS")+" -overlay="+overlay), "PATH="+path)
}

// compile builds the tests of a package.
func (j *judge) compile(ctx context.Context, pkg, overlay string) *program {
	p := &program{path: filepath.Join(filepath.Dir(overlay), strings.NewReplacer("/", "_", ".", "").Replace(pkg)+".test")}
	cmd := exec.CommandContext(ctx, "go", "test", "-c", "-vet=off", "-tags", j.tags, "-o", p.path, pkg)
	cmd.Dir, cmd.Env = j.root, environment(overlay, 0)
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	cmd.WaitDelay = 20 * time.Second
	out, err := cmd.CombinedOutput()
	p.output, p.err = string(out), err
	return p
}

// program is the tests of a package with all mutants that can be compiled
// together.
func (j *judge) program(ctx context.Context, pkg string) *program {
	j.lock.Lock()
	p := j.built[pkg]
	if p == nil {
		p = new(program)
		j.built[pkg] = p
	}
	j.lock.Unlock()
	p.once.Do(func() {
		built := j.compile(ctx, pkg, j.overlay)
		p.path, p.output, p.err = built.path, built.output, built.err
	})
	return p
}

// judge asks first what is likely to notice, then all tests, or, if quick is
// set, those of the first share.
func (j *judge) judge(ctx context.Context, a *applied, first []selection, quick bool) (verdict, error) {
	number, overlay := j.all.number[a.name], j.overlay
	get := j.program
	if number == 0 {
		var err error
		if overlay, err = j.writeOverlay(a.name, map[string][]byte{a.path: a.text}); err != nil {
			return verdict{}, err
		}
		defer os.RemoveAll(filepath.Dir(overlay))
		built := map[string]*program{}
		get = func(ctx context.Context, pkg string) *program {
			if built[pkg] == nil {
				built[pkg] = j.compile(ctx, pkg, overlay)
			}
			return built[pkg]
		}
	}
	for _, s := range slices.Concat(first, j.likely(a.pkg()), j.selections(a.pkg(), quick)) {
		p := get(ctx, s.Pkg)
		if ctx.Err() != nil {
			return verdict{}, ctx.Err()
		}
		if p.err != nil {
			return verdict{State: "error", Pkg: s.Pkg, Output: p.output + p.err.Error()}, nil
		}
		v, err := j.run(ctx, p, s, overlay, number)
		if err != nil || v.State != "survived" {
			if top, _, _ := strings.Cut(v.Test, "/"); top != "" {
				j.lock.Lock()
				j.kills[killer{a.pkg(), s.Pkg, top}]++
				j.lock.Unlock()
			}
			return v, err
		}
	}
	return verdict{State: "survived", First: quick}, nil
}

// likely are the tests that have killed most mutants of a package so far for
// the time that they take: they are asked before all others.
func (j *judge) likely(of string) (all []selection) {
	j.lock.Lock()
	defer j.lock.Unlock()
	for _, pkg := range j.judges(of) {
		worth := map[string]float64{}
		for k, n := range j.kills {
			if k.of != of || k.pkg != pkg || j.times[pkg] == nil {
				continue
			}
			if t, ok := j.times[pkg].Tests[k.test]; ok {
				worth[k.test] = float64(n) / max(t, 10*time.Millisecond).Seconds()
			}
		}
		tests := slices.SortedFunc(maps.Keys(worth), func(a, b string) int {
			return cmp.Or(cmp.Compare(worth[b], worth[a]), strings.Compare(a, b))
		})
		var in []string
		var sum time.Duration
		for _, t := range tests {
			if sum += j.times[pkg].Tests[t]; sum > likelyTime && in != nil {
				break
			}
			in = append(in, regexp.QuoteMeta(t))
		}
		if in != nil {
			all = append(all, selection{Pkg: pkg, Run: "^(" + strings.Join(in, "|") + ")$"})
		}
	}
	return all
}

// likelyTime is what the likely tests of a package may take together.
const likelyTime = 4 * time.Second

// selections are the tests that judge a change of pkg: the quickest of all
// packages first, as most mutants do not get past them.
func (j *judge) selections(pkg string, quick bool) (all []selection) {
	last := len(shares)
	if quick {
		last = 1
	}
	for k := range last {
		for _, p := range j.judges(pkg) {
			if tests := j.times[p].share(k); tests != "" {
				all = append(all, selection{Pkg: p, Run: tests})
			}
		}
	}
	return all
}

// shares are parts of the time that the tests of a package take: those that
// go into the first, then those that fill it up to the second, and so on.
var shares = [...]float64{1. / 32, 1. / 8, 1. / 2, 1}

// little is the time that the tests of the first share may take in any case.
const little = 2 * time.Second

// of is what the tests that a pattern names take together.
func (d *durations) of(pattern string) (sum time.Duration) {
	top, _, _ := strings.Cut(pattern, "/")
	named, err := regexp.Compile(top)
	if err != nil {
		return d.All
	}
	for test, t := range d.Tests {
		if named.MatchString(test) {
			sum += t
		}
	}
	return sum
}

// share is a pattern of the tests of the share with number k.
func (d *durations) share(k int) string {
	tests := slices.SortedFunc(maps.Keys(d.Tests), func(a, b string) int {
		return cmp.Or(cmp.Compare(d.Tests[a], d.Tests[b]), strings.Compare(a, b))
	})
	var sum, all time.Duration
	for _, t := range d.Tests {
		all += t
	}
	var in []string
	for _, t := range tests {
		sum += d.Tests[t]
		of := slices.IndexFunc(shares[:], func(share float64) bool { return float64(sum) <= max(share*float64(all), float64(little)) })
		if of == k || of < 0 && k == len(shares)-1 {
			in = append(in, regexp.QuoteMeta(t))
		}
	}
	if in == nil {
		return ""
	}
	return "^(" + strings.Join(in, "|") + ")$"
}

// run runs some tests, with a mutant or, with number 0, none.
func (j *judge) run(ctx context.Context, p *program, s selection, overlay string, number int) (verdict, error) {
	limit := time.Hour
	if d := j.times[s.Pkg]; d != nil {
		limit = j.slack + time.Duration(j.factor*float64(d.of(s.Run)))
	}
	args := []string{"-test.short", "-test.failfast", "-test.v", "-test.timeout=" + limit.String(), "-test.run=" + s.Run, "-test.skip=" + j.skip}
	ctx, cancel := context.WithTimeout(ctx, limit+time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, p.path, args...)
	cmd.Dir, cmd.Env = filepath.Join(j.root, filepath.FromSlash(s.Pkg)), environment(overlay, number)
	cmd.WaitDelay = 10 * time.Second
	out, err := cmd.CombinedOutput()
	if ctx.Err() != nil && !errors.Is(ctx.Err(), context.DeadlineExceeded) {
		return verdict{}, ctx.Err()
	}
	if err == nil {
		return verdict{State: "survived", Output: string(out)}, nil
	}
	if exit := new(exec.ExitError); !errors.As(err, &exit) && !errors.Is(err, exec.ErrWaitDelay) && ctx.Err() == nil {
		return verdict{}, err
	}
	return failure(s.Pkg, out), nil
}

var (
	testRuns = regexp.MustCompile(`^=== (?:RUN|CONT|NAME) +(\S+)`)
	testEnds = regexp.MustCompile(`^ *--- (PASS|FAIL|SKIP): (\S+) \(([0-9.]+)s\)`)
)

// failure reads what failed out of the output of a test program.
func failure(pkg string, out []byte) verdict {
	v := verdict{State: "killed", Pkg: pkg}
	var last, running []string
	for text := range strings.Lines(string(out)) {
		text = strings.TrimRight(text, "\n")
		if m := testRuns.FindStringSubmatch(text); m != nil {
			running = append(running, m[1])
		} else if m := testEnds.FindStringSubmatch(text); m != nil {
			running = slices.DeleteFunc(running, func(test string) bool { return test == m[2] })
			// What failed first, and of that the innermost.
			if m[1] == "FAIL" && (v.Test == "" || strings.HasPrefix(m[2], v.Test+"/")) {
				v.Test = m[2]
			}
		} else {
			last = append(last, text)
			v.Slow = v.Slow || strings.HasPrefix(text, "panic: test timed out")
		}
	}
	// A test that took too long, or ended the process, has no end in the output.
	if n := len(running); v.Test == "" && n > 0 {
		v.Test = running[n-1]
	}
	if v.Test == "" {
		v.Output = strings.Join(last[max(len(last)-12, 0):], "\n")
	}
	return v
}

// pattern is the argument of -run for one test.
func pattern(test string) string {
	var parts []string
	for _, part := range strings.Split(test, "/") {
		parts = append(parts, "^"+regexp.QuoteMeta(part)+"$")
	}
	return strings.Join(parts, "/")
}

// measure runs the tests without a mutant: they have to pass, and what they
// take says which to ask first, and bounds what they may take with one.
func (j *judge) measure(ctx context.Context, pkg string) (*durations, error) {
	p := j.program(ctx, pkg)
	if p.err != nil {
		return nil, fmt.Errorf("%s does not compile with all mutants: %w\n%s", pkg, p.err, p.output)
	}
	start := time.Now()
	v, err := j.run(ctx, p, selection{Pkg: pkg}, j.overlay, 0)
	if err != nil {
		return nil, err
	}
	if v.State != "survived" {
		return nil, fmt.Errorf("%s fails without a mutant: %s\n%s", pkg, v.Test, v.Output)
	}
	d := &durations{All: time.Since(start), Tests: map[string]time.Duration{}}
	for text := range strings.Lines(v.Output) {
		if m := testEnds.FindStringSubmatch(strings.TrimRight(text, "\n")); m != nil && !strings.Contains(m[2], "/") {
			seconds, _ := strconv.ParseFloat(m[3], 64)
			d.Tests[m[2]] = time.Duration(seconds * float64(time.Second))
		}
	}
	return d, nil
}
