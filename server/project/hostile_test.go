package project

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/isa/reftest"
)

// hostileProjects are project files, and hostileDatabases compilation databases, that
// somebody else may have put there.
var hostileProjects = []string{
	"", " ", "[", "{", "{}", "null", "1", "true", `""`, "[]", "{]", "{}{}", "\x00", "\xff\xfe", "{\"\x00\":1}", `{"include":null}`, `{"include":"/"}`, `{"include":["/"]}`, `{"include":[1]}`, `{"include":[["/"]]}`,
	`{"include":["` + strings.Repeat("../", 10_000) + `"]}`, `{"include":[` + strings.Repeat(`"x",`, 100_000) + `"x"]}`, `{"include":["\u0000"]}`, `{"cpu":1}`, `{"cpu":"none such"}`, `{"cpu":"` + strings.Repeat("x", 1<<20) + `"}`,
	`{"arch":"armv7-a` + strings.Repeat("+fp", 10_000) + `"}`, `{"defines":["` + strings.Repeat("A", 1<<20) + `"]}`, `{"defines":[` + strings.Repeat(`"A=A A",`, 50_000) + `"B"]}`, `{"defines":["","=","(","A(","A(B","A(B)=","#","A B"]}`,
	`{"symbols":["A=` + strings.Repeat("9", 100_000) + `"]}`, `{"symbols":["=1","A","A=","A=x","1=1"]}`, `{"prelude":["/etc/passwd","/dev/zero","."]}`, `{"prelude":[` + strings.Repeat(`"x",`, 10_000) + `"x"]}`,
	`{"compileCommands":"/"}`, `{"compileCommands":"/dev/zero"}`, `{"compileCommands":"narrowgauge.json"}`, `{"readAlso":["/"]}`, `{"no such":1}`, strings.Repeat("[", 1<<20), strings.Repeat(`{"a":`, 100_000), `{"include":` + strings.Repeat("[", 1<<20), "{" + strings.Repeat(`"cpu":"none",`, 50_000) + `"cpu":"cortex-m0"}`,
}

var hostileDatabases = []string{
	"", "[", "{}", "null", "[null]", "[[]]", "[1]", "[{}]", "[{},", "\x00", strings.Repeat("[", 1<<20), strings.Repeat("[{", 1<<18), "[" + strings.Repeat("null,", 1<<16) + "null]", "[" + strings.Repeat("{},", 1<<16) + "{}]",
	entryOf("as -I/"), entryOf("as " + strings.Repeat("-I/dev/zero ", 1<<16)), entryOf("gcc " + lots("-I/n%d ", 100_000)), entryOf("gcc " + lots("-DA%d ", 50_000)), entryOf("gcc " + lots("-DA%d -UA%[1]d ", 30_000)), entryOf("gcc " + strings.Repeat("-DA ", 50_000)),
	entryOf("gcc " + strings.Repeat("-include x ", 50_000) + lots("-I/n%d ", 50_000)), entryOf("gcc @a.s @/dev/zero @compile_commands.json"), entryOf("gcc " + strings.Repeat("@compile_commands.json ", 10_000)), entryOf("'unfinished"), entryOf(`\\`), entryOf(strings.Repeat("\\\\", 1<<18)),
	entryOf("as --defsym A=" + strings.Repeat("0_", 100_000)), entryOf("as " + strings.Repeat("--defsym A ", 50_000)), entryOf("as -march=armv7-a" + strings.Repeat("+x", 20_000)), entryOf("gcc -Wa," + strings.Repeat("-I,", 100_000)), entryOf("gcc -Wp," + strings.Repeat("-D,", 100_000)), entryOf("gcc -x"), entryOf("gcc -I"), entryOf(""),
	`[{"directory":"` + strings.Repeat("/x", 1<<16) + `","file":"a.s","command":"as"}]`, `[{"directory":"\u0000","file":"a.s","command":"as"}]`, `[{"file":"\u0000.s","command":"\u0000"}]`, `[{"directory":".","file":"` + strings.Repeat("../", 10_000) + `a.s","command":"as"}]`,
	`[{"directory":".","file":"a.s","arguments":[` + strings.Repeat(`"-I",`, 1<<17) + `"x"]}]`, `[{"directory":".","file":"a.s","arguments":null}]`, "[" + strings.Repeat(`{"directory":".","file":"a.s","command":"as"},`, 20_000) + "{}]",
}

func entryOf(command string) string {
	return fmt.Sprintf(`[{"directory":".","file":"a.s","command":%q}]`, command)
}

// settingsOf are the settings of a project file, the usual ones without.
func settingsOf(p *Project) (out analysis.Settings) {
	if p != nil {
		out = p.Settings
	}
	return out
}

func lots(format string, n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, format, i)
	}
	return b.String()
}

// TestHostileSettings reads each of them, and holds what that allocates: so much for each
// byte, with room for what the reading itself takes. Settings come out in any case, and
// nothing from outside of the folder.
func TestHostileSettings(t *testing.T) {
	const (
		fixed   = 8 << 20
		perByte = 700
	)
	if n := len(hostileProjects) + len(hostileDatabases); n < 60 {
		t.Errorf("%d hostile settings and databases, want 60", n)
	}
	proof := reftest.Begin(t)
	for _, kind := range []struct {
		name  string
		texts []string
	}{{FileName, hostileProjects}, {CommandsName, hostileDatabases}} {
		for i, text := range kind.texts {
			dir := t.TempDir()
			source := filepath.Join(dir, "a.s")
			for name, text := range map[string]string{"a.s": "\tnop\n", kind.name: text} {
				if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			var finder Finder
			var commands Commands
			within := NewBounds(dir)
			own := settingsOf(finder.Find(dir, within))
			set, cmd := commands.Resolve(own, source, within)
			valid, _ := Valid(set)
			runtime.ReadMemStats(&after)
			if got := after.TotalAlloc - before.TotalAlloc; got > fixed+perByte*uint64(len(text)) {
				t.Errorf("%s %d, %.60q: %d bytes take %d MB", kind.name, i, text, len(text), got>>20)
			}
			if valid == nil {
				t.Errorf("%s %d: no settings", kind.name, i)
			}
			if cmd != nil && (len(cmd.Notes) > maxNotes+5 || len(cmd.Settings.Include) > maxFolders || len(cmd.Settings.Prelude) > maxPreludes) {
				t.Errorf("%s %d: %d notes, %d folders, %d preludes", kind.name, i, len(cmd.Notes), len(cmd.Settings.Include), len(cmd.Settings.Prelude))
			}
		}
	}
	proof.Counted("hostile settings: %d, databases: %d", len(hostileProjects), len(hostileDatabases))
}

// FuzzProject reads any bytes as a project file.
func FuzzProject(f *testing.F) {
	for _, text := range hostileProjects {
		if len(text) < 1000 {
			f.Add([]byte(text))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) { readAs(t, FileName, data) })
}

// FuzzDatabase reads any bytes as a compilation database.
func FuzzDatabase(f *testing.F) {
	for _, text := range hostileDatabases {
		if len(text) < 1000 {
			f.Add([]byte(text))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) { readAs(t, CommandsName, data) })
}

func readAs(t *testing.T, name string, data []byte) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
		t.Fatal(err)
	}
	var finder Finder
	var commands Commands
	within := NewBounds(dir)
	own := settingsOf(finder.Find(dir, within))
	set, _ := commands.Resolve(own, filepath.Join(dir, "a.s"), within)
	if valid, _ := Valid(set); valid == nil {
		t.Error("no settings")
	}
}
