package analysis

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// renameRandom gives a random name of a source another one, and the new text. why says, where
// it is empty, what kept it from being done; nothing is named at many places.
func renameRandom(t *testing.T, rnd *rand.Rand, r *Result) (kind fmt.Stringer, text, note, why string) {
	t.Helper()
	f := r.prog.File
	n := rnd.IntN(f.NumLines())
	var list []syntax.Word
	f.Words(n, func(w syntax.Word) { list = append(list, w) })
	if len(list) == 0 {
		return nil, "", "", ""
	}
	w := list[rnd.IntN(len(list))]
	target, err := r.RenameAt(r.prog.Path, f.LineStart(n)+int(w.Start))
	if err != nil {
		return nil, "", "", ""
	}
	name := fmt.Sprintf("%s_%d", []string{"signal", "Points", "lamp_", "T"}[rnd.IntN(4)], rnd.IntN(1000))
	switch {
	case target.Kind == RenameNumber:
		name = fmt.Sprint(50 + rnd.IntN(40))
	case strings.HasPrefix(target.Name, ".L"):
		name = ".L" + name
	}
	note = fmt.Sprintf("%s for %s of line %d (kind %d)", name, target.Name, n+1, target.Kind)
	if err := r.CanRename(target, name); err != nil {
		return renameKind(target.Kind), "", note, err.Error()
	}
	edits, err := r.RenameEdits(target, name)
	if err != nil {
		return renameKind(target.Kind), "", note, err.Error()
	}
	after, err := r.Edited(context.Background(), edits)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.SameBut(after, target, name); err != nil {
		return renameKind(target.Kind), "", note, err.Error()
	}
	return renameKind(target.Kind), after.in.File.Text(), note, ""
}

type renameKind uint8

func (k renameKind) String() string {
	return [...]string{"symbols", "numbers", "macros", "parameters", "registers", "defines"}[k]
}

// sameObject says in what two objects differ; names do not count.
func sameObject(a, b *reftest.Object) string {
	switch {
	case a == nil || b == nil:
		return "it is refused"
	case !maps.EqualFunc(a.Sections, b.Sections, slices.Equal[[]byte]):
		return "the bytes differ"
	case len(a.Symbols) != len(b.Symbols):
		return fmt.Sprintf("%d symbols are %d", len(a.Symbols), len(b.Symbols))
	}
	bare := func(o *reftest.Object) map[string][]reftest.Reloc {
		out := map[string][]reftest.Reloc{}
		for s, list := range o.Relocs {
			for _, r := range list {
				r.Symbol = ""
				out[s] = append(out[s], r)
			}
		}
		return out
	}
	if !reflect.DeepEqual(bare(a), bare(b)) {
		return "the relocations differ"
	}
	return ""
}

// TestRenameReal gives random names in sources that nobody here wrote other ones: the
// reference assembler makes the same bytes and relocations of them.
func TestRenameReal(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	rnd := reftest.Rand(71, 9)
	goal := reftest.Count(40, 400, 6000)
	done, refused := map[string]int{}, map[string]int{}
	reasons := map[string]string{}
	packages := slices.DeleteFunc(slices.Clone(sources.Chosen(t)), func(p *sources.Package) bool { return p.Columns })
	for _, p := range packages {
		var texts []*realText
		for _, x := range realTexts(t, p).texts {
			if len(x.text) < 60000 && len(x.text) > 300 {
				texts = append(texts, x)
			}
		}
		if len(texts) == 0 {
			continue
		}
		var programs []reftest.Program
		var notes []string
		for tries := 0; len(notes) < goal/len(packages) && tries < goal; tries++ {
			x := texts[rnd.IntN(len(texts))]
			c := x.unit.Config
			r, err := Analyze(context.Background(), &Input{Path: "real.s", File: syntax.ParseAs(x.text, syntax.Dots), Set: &Settings{Arch: c.Arch, FPU: c.FPU, Preprocess: "never"}})
			if err != nil {
				t.Fatal(err)
			}
			for range 12 {
				kind, text, note, why := renameRandom(t, rnd, r)
				switch {
				case kind == nil:
				case why != "":
					refused[kind.String()]++
					reasons[why] = x.unit.String() + ": " + note
				default:
					done[kind.String()]++
					notes = append(notes, x.unit.String()+": "+note)
					programs = append(programs, reftest.Program{Text: x.text, Flags: c.Flags()}, reftest.Program{Text: text, Flags: c.Flags()})
				}
			}
		}
		objects := reftest.AssembleObjects(t, programs)
		for i, note := range notes {
			if a, b := objects[2*i], objects[2*i+1]; a != nil || b != nil {
				if why := sameObject(a, b); why != "" {
					t.Errorf("%s: %s", note, why)
				}
			}
		}
	}
	all, not := 0, 0
	for _, kind := range slices.Sorted(maps.Keys(done)) {
		all, not = all+done[kind], not+refused[kind]
		proof.Counted("renamed in real sources: %d %s, refused: %d", done[kind], kind, refused[kind])
	}
	if all < reftest.Least(goal/2) {
		t.Errorf("only %d names were changed, want %d", all, goal/2)
	}
	for why, note := range reasons {
		t.Logf("refused: %s\n\t%s", why, note)
	}
}

// TestRenameRaw does the same with sources as they are, through the preprocessor: names of its
// macros too, and those that several files have.
func TestRenameRaw(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as", "cpp")
	rnd := reftest.Rand(72, 9)
	goal := reftest.Count(20, 80, 2000)
	lib := &library{files: map[string]*syntax.File{}}
	done, several, refused := map[string]int{}, 0, 0
	var packages []*sources.Package
	for _, p := range sources.Chosen(t) {
		if !p.Columns {
			packages = append(packages, p)
		}
	}
	for _, p := range packages {
		var units []*sources.Unit
		for _, u := range realTexts(t, p).units {
			if !u.Config.Big && !u.Config.Apart && !u.Refused && len(u.Text) < 60000 {
				units = append(units, u)
			}
		}
		n := 0
		for tries := 0; len(units) > 0 && n < goal/len(packages) && tries < goal; tries++ {
			u := units[rnd.IntN(len(units))]
			r := lib.analyzeRaw(t, u, nil)
			var after []*sources.Unit
			var notes []string
			for range 10 {
				kind, edits, note := renameAnywhere(t, rnd, r, u)
				switch {
				case kind == nil:
				case edits == nil:
					refused++
				default:
					n++
					done[kind.String()]++
					if len(edits) > 1 {
						several++
					}
					after = append(after, editedUnit(t, lib, u, edits))
					notes = append(notes, u.String()+": "+note)
				}
			}
			sources.Expand(t, after)
			programs := []reftest.Program{{Text: u.Text, Flags: u.Config.Flags()}}
			for _, a := range after {
				programs = append(programs, reftest.Program{Text: a.Text, Flags: u.Config.Flags()})
			}
			objects := reftest.AssembleObjects(t, programs)
			for i, note := range notes {
				if objects[0] == nil {
					continue
				}
				if why := sameObject(objects[0], objects[i+1]); why != "" {
					t.Errorf("%s: %s", note, why)
				}
			}
		}
	}
	all := 0
	for _, kind := range slices.Sorted(maps.Keys(done)) {
		all += done[kind]
		proof.Counted("renamed in sources with their headers: %d %s", done[kind], kind)
	}
	if proof.Counted("in several files: %d, refused: %d", several, refused); all < reftest.Least(goal/2) {
		t.Errorf("only %d names were changed, want %d", all, goal/2)
	}
}

// renameAnywhere gives a random name in a random file of a unit another one, which is proven; no
// edits: it is refused.
func renameAnywhere(t *testing.T, rnd *rand.Rand, r *Result, u *sources.Unit) (kind fmt.Stringer, edits map[string][]Edit, note string) {
	paths := slices.DeleteFunc(r.Includes(), func(path string) bool { return strings.Contains(path, "stubs") })
	if len(paths) == 0 {
		return nil, nil, ""
	}
	path := paths[rnd.IntN(len(paths))]
	program := r.forRename()
	id := program.FileOf(path)
	f := program.Sources[id].File
	if unit := program.Sources[id].Unit; unit != nil {
		f = unit.Raw
	}
	n := rnd.IntN(f.NumLines())
	var list []syntax.Word
	f.Words(n, func(w syntax.Word) { list = append(list, w) })
	if len(list) == 0 {
		return nil, nil, ""
	}
	w := list[rnd.IntN(len(list))]
	target, err := r.RenameAt(path, f.LineStart(n)+int(w.Start))
	if err != nil {
		return nil, nil, ""
	}
	name := fmt.Sprintf("%s_%d", []string{"signal", "Points", "lamp_", "T"}[rnd.IntN(4)], rnd.IntN(1000))
	switch {
	case target.Kind == RenameNumber:
		name = fmt.Sprint(50 + rnd.IntN(40))
	case strings.HasPrefix(target.Name, ".L"):
		name = ".L" + name
	}
	note = fmt.Sprintf("%s for %s of %s, line %d (kind %d)", name, target.Name, path, n+1, target.Kind)
	if r.CanRename(target, name) != nil {
		return renameKind(target.Kind), nil, note
	}
	edits, err = r.RenameEdits(target, name)
	if err != nil {
		return renameKind(target.Kind), nil, note
	}
	after, err := r.Edited(context.Background(), edits)
	if err != nil {
		t.Fatal(err)
	}
	if r.SameBut(after, target, name) != nil {
		return renameKind(target.Kind), nil, note
	}
	return renameKind(target.Kind), edits, note
}

// editedUnit is a unit with edits in its files, which are in a folder of their own.
func editedUnit(t *testing.T, lib *library, u *sources.Unit, edits map[string][]Edit) *sources.Unit {
	t.Helper()
	dir := t.TempDir()
	out := *u
	out.From, out.Read = nil, nil // they are its own, and several are expanded at once
	var front []string
	for path, list := range edits {
		to := filepath.Join(dir, path)
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to, []byte(lib.open(path).EditAll(changes(list)).Text()), 0o644); err != nil {
			t.Fatal(err)
		}
		front = append(front, filepath.Dir(to), filepath.Dir(path))
		if path == u.Path {
			out.Path = to
		}
		out.First = slices.Clone(out.First)
		for i := range out.First {
			if out.First[i] == path {
				out.First[i] = to
			}
		}
	}
	out.Include = front // as a file finds what is beside it first
	for _, d := range u.Include {
		out.Include = append(out.Include, filepath.Join(dir, d), d)
	}
	return &out
}
