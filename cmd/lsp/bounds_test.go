package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"narrowgauge/isa/reftest"
	"narrowgauge/server/project"
)

// The signs of files outside: a word that is in all of them, a constant and
// the size of one. None of them may come out anywhere.
var signs = []string{"hunter22", "48611", "4711"}

// house is what lies outside of the repository in every case.
var house = map[string]string{
	"house/secret":                      "password hunter22\n",
	"house/secret.inc":                  "hunter22: .equ SECRET, 4711\n\tmovs r9, #4711 @ hunter22\n",
	"house/secret.s":                    "hunter22:\n\t.syntax unified\n\t.thumb\n\tadd r0, r1, r2\n\tmovs r9, #4711 @ hunter22\n\tcmp r0, #1\n\tbx lr\n",
	"house/secret.S":                    "hunter22:\n\tmovs r9, #4711 @ hunter22\n",
	"house/secret.h":                    "#define SECRET 4711\n#define hunter22 1\n",
	"house/secret.bin":                  strings.Repeat("x", 48611),
	"house/flags.rsp":                   "-mcpu=hunter22 -DSECRET=4711",
	"house/narrowgauge.json":            `{"cpu": "hunter22"}`,
	"house/build/compile_commands.json": `[{"directory":"%D/repo","file":"a.s","command":"gcc -mcpu=hunter22 -Wa,--defsym,SECRET=4711 a.s"}]`,
	"house/host.s":                      ".equ SECRET, 4711\n.include \"../repo/part.inc\"\n.include \"part.inc\"\n",
	"house/bin/arm-none-eabi-gcc":       "#!/bin/sh\necho hunter22\n",
	"house/lib/gcc/arm-none-eabi/9/include/secret.h": "#define SECRET 4711\n#define hunter22 1\n",
}

// layout is a repository, below the folder repo, and what becomes of it.
type layout struct {
	name  string
	files map[string]string // %D means the folder above repo
	links map[string]string // path to target
	// args are those of the command line in the folder above repo, for check and
	// fix; nil: the folder repo.
	args []string
	// only: what it is about, check or serve; empty: both, and fix.
	only string
	// quiet: nothing has to be said; unasked: not by the server, which reads no
	// source that nobody opens or includes.
	quiet, unasked bool
	// lacks must not come out.
	lacks string
}

const head = "\t.syntax unified\n\t.thumb\n"

// including is a repository of one source with a line.
func including(line string, more ...string) map[string]string {
	out := map[string]string{"repo/a.s": head + "\t" + line + "\n\tmovs r0, #1\n\tbx lr\n"}
	for i := 0; i+1 < len(more); i += 2 {
		out[more[i]] = more[i+1]
	}
	return out
}

func command(line string) string {
	text, _ := json.Marshal([]map[string]string{{"directory": "%D/repo", "file": "a.S", "command": line}})
	return string(text)
}

func preprocessed(line string, more ...string) map[string]string {
	out := including("nop", more...)
	delete(out, "repo/a.s")
	out["repo/a.S"] = head + line + "\n\tmovs r0, #1\n\tbx lr\n"
	return out
}

var hostileLayouts = []layout{
	{name: "the root of the disk as an include folder, absolute", files: including(`.include "%D/house/secret"`, "repo/narrowgauge.json", `{"include":["/"]}`)},
	{name: "the root of the disk as an include folder, relative", files: including(`.include ".%D/house/secret"`, "repo/narrowgauge.json", `{"include":["/"]}`)},
	{name: "an include folder above", files: including(`.include "house/secret"`, "repo/narrowgauge.json", `{"include":[".."]}`)},
	{name: "an include folder beside", files: including(`.include "secret.inc"`, "repo/narrowgauge.json", `{"include":["../house"]}`)},
	{name: "an absolute include folder", files: including(`.include "secret.inc"`, "repo/narrowgauge.json", `{"include":["%D/house"]}`)},
	{name: "an include folder that is a link", files: including(`.include "secret.inc"`, "repo/narrowgauge.json", `{"include":["inc"]}`), links: map[string]string{"repo/inc": "../house"}},
	{name: "an include folder below a link", files: including(`.include "secret.inc"`, "repo/narrowgauge.json", `{"include":["up/house"]}`), links: map[string]string{"repo/up": ".."}},
	{name: "a path upwards", files: including(`.include "../house/secret"`)},
	{name: "a source by its ending", files: including(`.include "../house/secret.inc"`)},
	{name: "a path down and up", files: including(`.include "sub/../../house/secret.inc"`, "repo/sub/x.inc", "")},
	{name: "a path with odd slashes and dots", files: including(`.include ".././/house/.//secret.inc"`)},
	{name: "a path through the process's root", files: including(`.include "/proc/self/root%D/house/secret.inc"`)},
	{name: "a path through the process's folder", files: including(`.include "/proc/self/cwd/house/secret.inc"`)},
	{name: "an include that a macro makes", files: including(".macro take n\n\t.include \"\\n\"\n\t.endm\n\ttake ../house/secret.inc")},
	{name: "an included file that includes", files: including(`.include "sub/b.inc"`, "repo/sub/b.inc", `.include "../../house/secret.inc"`)},
	{name: "a link to a file", files: including(`.include "x.inc"`), links: map[string]string{"repo/x.inc": "../house/secret.inc"}},
	{name: "an absolute link to a file", files: including(`.include "x.inc"`), links: map[string]string{"repo/x.inc": "%D/house/secret.inc"}},
	{name: "a link to something that is no source", files: including(`.include "x.inc"`), links: map[string]string{"repo/x.inc": "../house/secret"}},
	{name: "a chain of links", files: including(`.include "x.inc"`, "repo/sub/y.inc", ""), links: map[string]string{"repo/x.inc": "sub/z.inc", "repo/sub/z.inc": "../w.inc", "repo/w.inc": "sub/../../house/secret.inc"}},
	{name: "a link through the process's root", files: including(`.include "x.inc"`), links: map[string]string{"repo/x.inc": "/proc/self/root%D/house/secret.inc"}},
	{name: "a link to a folder", files: including(`.include "sub/secret.inc"`), links: map[string]string{"repo/sub": "../house"}},
	{name: "a link to a folder far above", files: including(`.include "all%D/house/secret.inc"`), links: map[string]string{"repo/all": "/"}},
	{name: "links out and back and out", files: including(`.include "up/repo/up/house/secret.inc"`), links: map[string]string{"repo/up": ".."}},
	{name: "a link that leads to nothing outside", files: including(`.include "x.inc"`), links: map[string]string{"repo/x.inc": "../house/none.inc"}},
	{name: "a source that is a link", unasked: true, files: including("nop"), links: map[string]string{"repo/x.s": "../house/secret.s"}},
	{name: "a source that is an absolute link", unasked: true, files: including("nop"), links: map[string]string{"repo/sub/x.s": "%D/house/secret.s"}},
	{name: "a source for the preprocessor that is a link", unasked: true, files: including("nop"), links: map[string]string{"repo/x.S": "../house/secret.S"}},
	{name: "a source that is a link to a text", unasked: true, files: including("nop"), links: map[string]string{"repo/x.s": "../house/secret"}},
	{name: "a source that is a chain of links", unasked: true, files: including("nop"), links: map[string]string{"repo/x.s": "y", "repo/y": "../house/secret.s"}},

	{name: "#include upwards", files: preprocessed(`#include "../house/secret.h"`)},
	{name: "#include of a folder of the project file", files: preprocessed(`#include <secret.h>`, "repo/narrowgauge.json", `{"include":["../house"]}`)},
	{name: "#include of a name that a macro makes", files: preprocessed("#define NAME \"../house/secret.h\"\n#include NAME")},
	{name: "#include_next", files: preprocessed(`#include "x.h"`, "repo/x.h", "#include_next <secret.h>\n", "repo/narrowgauge.json", `{"include":[".","../house"]}`)},
	{name: "#import", files: preprocessed(`#import "../house/secret.h"`)},
	{name: "__has_include of what is there", files: preprocessed("#if __has_include(\"%D/house/secret.h\")\n\tmovs r9, #1\n#endif"), quiet: true, lacks: "low-registers"},
	{name: "a prelude", files: preprocessed("#ifdef SECRET\n\tmovs r0, #SECRET\n#endif", "repo/narrowgauge.json", `{"prelude":["%D/house/secret.h"]}`)},
	{name: "a prelude upwards", files: preprocessed("#ifdef SECRET\n\tmovs r0, #SECRET\n#endif", "repo/narrowgauge.json", `{"prelude":["../house/secret.h"]}`)},
	{name: "a prelude that is a link", files: preprocessed("#ifdef SECRET\n\tmovs r0, #SECRET\n#endif", "repo/narrowgauge.json", `{"prelude":["x.h"]}`), links: map[string]string{"repo/x.h": "../house/secret.h"}},

	{name: "the bytes of a file", files: including(`.incbin "../house/secret.bin"`)},
	{name: "more bytes than a file has", files: including(`.incbin "../house/secret.bin", 0, 99999`)},
	{name: "the bytes of a link", files: including(`.incbin "x.bin", 99999`), links: map[string]string{"repo/x.bin": "../house/secret.bin"}},
	{name: "the bytes of a file in an include folder", files: including("beq 1f\n\t.incbin \"secret.bin\"\n1:", "repo/narrowgauge.json", `{"include":["../house"]}`), lacks: "branch-reach"},

	{name: "the column dialect", files: map[string]string{"repo/a.s": "        AREA    points, CODE, READONLY\n        THUMB\n        GET     ../house/secret.inc\n        INCBIN  ../house/secret.bin\n        END\n"}},

	{name: "a project file that is a link", files: including("nop"), links: map[string]string{"repo/narrowgauge.json": "../house/narrowgauge.json"}},
	{name: "a project file that is a link to a text", files: including("nop"), links: map[string]string{"repo/narrowgauge.json": "../house/secret"}},
	{name: "a project file that allows itself", files: including(`.include "../house/secret.inc"`, "repo/narrowgauge.json", `{"readAlso":["/"]}`)},
	{name: "a project file below that allows itself", files: map[string]string{"repo/sub/narrowgauge.json": `{"include":["../../house"],"readAlso":["../.."]}`, "repo/sub/a.s": `.include "secret.inc"`}},
	{name: "a project file above the workspace", only: "serve", files: including("movs r0, #SECRET", "narrowgauge.json", `{"cpu":"hunter22","symbols":["SECRET=4711"],"include":["house"]}`), quiet: true},
	{name: "a database above the workspace", only: "serve", files: including("movs r0, #SECRET", "compile_commands.json", `[{"directory":"%D/repo","file":"a.s","command":"gcc -mcpu=hunter22 -Wa,--defsym,SECRET=4711 a.s"}]`), quiet: true},

	{name: "a database that the project file names", files: including("movs r0, #SECRET", "repo/narrowgauge.json", `{"compileCommands":"../house/build/compile_commands.json"}`)},
	{name: "a folder with a database that the project file names", files: including("movs r0, #SECRET", "repo/narrowgauge.json", `{"compileCommands":"%D/house/build"}`)},
	{name: "a database that is a link", files: including("movs r0, #SECRET"), links: map[string]string{"repo/compile_commands.json": "../house/build/compile_commands.json"}},
	{name: "a build folder that is a link", files: including("movs r0, #SECRET"), links: map[string]string{"repo/build": "../house/build"}},
	{name: "-I of the root of the disk", files: preprocessed(`#include ".%D/house/secret.h"`, "repo/compile_commands.json", command("gcc -I/ -c a.S"))},
	{name: "-I of a folder outside", files: preprocessed(`#include "secret.h"`, "repo/compile_commands.json", command("gcc -I%D/house -c a.S"))},
	{name: "-I upwards", files: preprocessed(`#include "secret.h"`, "repo/compile_commands.json", command("gcc -I../house -c a.S"))},
	{name: "-isystem", files: preprocessed(`#include <secret.h>`, "repo/compile_commands.json", command("gcc -isystem %D/house -c a.S"))},
	{name: "-iquote", files: preprocessed(`#include "secret.h"`, "repo/compile_commands.json", command("gcc -iquote %D/house -c a.S"))},
	{name: "-idirafter", files: preprocessed(`#include "secret.h"`, "repo/compile_commands.json", command("gcc -idirafter %D/house -c a.S"))},
	{name: "-Wa,-I", files: preprocessed(`.include "secret.inc"`, "repo/compile_commands.json", command("gcc -Wa,-I%D/house -c a.S"))},
	{name: "-I of a link", files: preprocessed(`#include "secret.h"`, "repo/compile_commands.json", command("gcc -Iinc -c a.S")), links: map[string]string{"repo/inc": "../house"}},
	{name: "a folder of commands outside", files: preprocessed(`#include "secret.h"`, "repo/compile_commands.json", `[{"directory":"%D/house","file":"%D/repo/a.S","command":"gcc -I. -c ../repo/a.S"}]`)},
	{name: "-include", files: preprocessed("\tmovs r0, #SECRET", "repo/compile_commands.json", command("gcc -include %D/house/secret.h -c a.S"))},
	{name: "-include in a folder of commands outside", files: preprocessed("\tmovs r0, #SECRET", "repo/compile_commands.json", `[{"directory":"%D/house","file":"%D/repo/a.S","command":"gcc -include secret.h -c ../repo/a.S"}]`)},
	{name: "-imacros upwards", files: preprocessed("\tmovs r0, #SECRET", "repo/compile_commands.json", command("gcc -imacros ../house/secret.h -c a.S"))},
	{name: "a response file", files: preprocessed("\tnop", "repo/compile_commands.json", command("gcc @%D/house/flags.rsp -c a.S"))},
	{name: "a response file that is a link", files: preprocessed("\tnop", "repo/compile_commands.json", command("gcc @flags.rsp -c a.S")), links: map[string]string{"repo/flags.rsp": "../house/flags.rsp"}},
	{name: "a response file that names another", files: preprocessed("\tnop", "repo/flags.rsp", "@../house/flags.rsp", "repo/compile_commands.json", command("gcc @flags.rsp -c a.S"))},
	{name: "a response file that is a text", files: preprocessed("\tnop", "repo/compile_commands.json", command("gcc -mcpu=@x @../house/secret -c a.S"))},
	{name: "a compiler outside", files: preprocessed(`#include "secret.h"`, "repo/compile_commands.json", command("%D/house/bin/arm-none-eabi-gcc -I%D/house/lib/gcc/arm-none-eabi/9/include -c a.S"))},
	{name: "a compiler of the repository", files: preprocessed(`#include "secret.h"`, "repo/bin/arm-none-eabi-gcc", "#!/bin/sh\n", "repo/compile_commands.json", command("%D/repo/bin/arm-none-eabi-gcc -Ilib -c a.S")), links: map[string]string{"repo/lib": "../house/lib/gcc/arm-none-eabi/9/include"}},

	{name: "a source above that includes a file of the repository", unasked: true, files: map[string]string{"repo/part.inc": "\t.byte SECRET\n", "repo/a.s": "\tnop\n"}, links: map[string]string{"repo/h.s": "../house/host.s"}},
	{name: "an index of a folder that is a link", files: map[string]string{"repo/part.inc": "\t.byte SECRET\n", "repo/a.s": "\tnop\n"}, links: map[string]string{"repo/sub": "../house"}, quiet: true},

	{name: "a named file: upwards", args: []string{"repo/a.s"}, only: "check", files: including(`.include "../house/secret.inc"`)},
	{name: "a named file: a folder of the project", args: []string{"repo/a.s"}, only: "check", files: including(`.include "secret.inc"`, "repo/narrowgauge.json", `{"include":["../house"]}`)},
	{name: "a named file: a link beside it", args: []string{"repo/a.s"}, only: "check", files: including(`.include "x.inc"`), links: map[string]string{"repo/x.inc": "../house/secret.inc"}},
	{name: "a named file: what the current folder has", args: []string{"repo/sub/a.s"}, only: "check", files: map[string]string{"repo/sub/a.s": `.include "../../house/secret.inc"`}},
	{name: "a named folder: its link", args: []string{"repo", "repo/a.s"}, only: "check", files: including("nop"), links: map[string]string{"repo/x.s": "../house/secret.s"}},
	{name: "an allowed folder, and another", args: []string{"--read-also", "other", "repo"}, only: "check", files: including(`.include "../house/secret.inc"`, "other/x.inc", "")},
	{name: "a database by hand", args: []string{"--compile-commands", "made/x.json", "repo"}, only: "check", files: preprocessed(`#include "secret.h"`, "made/x.json", command("gcc -I%D/house -c a.S"))},
	{name: "a database by hand, and a response file", args: []string{"--compile-commands", "made", "repo"}, only: "check", files: preprocessed("\tnop", "made/compile_commands.json", command("gcc @%D/house/flags.rsp -c a.S"))},
	{name: "a prelude by hand, and what it includes", args: []string{"--prelude", "lib/c.h", "repo/a.S"}, only: "check", files: preprocessed("\tmovs r0, #SECRET", "repo/lib/c.h", "#include \"../../house/secret.h\"\n")},
	{name: "an include folder by hand, and a link in it", args: []string{"-I", "other", "repo"}, only: "check", files: including(`.include "x.inc"`, "other/y.inc", ""), links: map[string]string{"other/x.inc": "../house/secret.inc"}},
}

// lay writes a repository into a folder.
func (l layout) lay(t *testing.T) string {
	t.Helper()
	dir, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	for _, files := range []map[string]string{house, l.files} {
		for name, text := range files {
			path := filepath.Join(dir, name)
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			mode := fs.FileMode(0o644)
			if strings.Contains(name, "/bin/") {
				mode = 0o755
			}
			if err := os.WriteFile(path, []byte(strings.ReplaceAll(text, "%D", dir)), mode); err != nil {
				t.Fatal(err)
			}
		}
	}
	for name, target := range l.links {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(strings.ReplaceAll(target, "%D", dir), path); err != nil {
			reftest.Need(t, false, err.Error())
		}
	}
	return dir
}

// TestHostileLayouts opens repositories that try to have files outside read or
// written. No text, number or size of them comes out of check, fix or serve, what
// is refused names the setting that would allow it, and the files stay.
func TestHostileLayouts(t *testing.T) {
	proof := reftest.Begin(t)
	if n := len(hostileLayouts); n < 40 {
		t.Errorf("%d layouts", n)
	}
	layouts := reftest.Sample(hostileLayouts, 13)
	proof.Counted("repositories that reach outside: %d layouts", len(layouts))
	for _, l := range layouts {
		t.Run(l.name, func(t *testing.T) {
			t.Parallel()
			dir := l.lay(t)
			before := state(t, filepath.Join(dir, "house"))
			judge := func(what, out string, quiet bool) {
				t.Helper()
				for _, sign := range append(slices.Clone(signs), l.lacks) {
					if sign != "" && strings.Contains(out, sign) {
						t.Errorf("%s says %q:\n%s", what, sign, brief(out))
					}
				}
				if !quiet && !strings.Contains(out, "readAlso") {
					t.Errorf("%s does not name the setting:\n%s", what, brief(out))
				}
				if now := state(t, filepath.Join(dir, "house")); now != before {
					t.Errorf("%s has changed what lies outside:\n%s\nwas\n%s", what, now, before)
				}
			}
			args := l.args
			if args == nil {
				args = []string{"repo"}
			}
			if l.only != "serve" {
				judge("check", output(t, dir, append([]string{"check", "--hints"}, args...)...), l.quiet)
				judge("check --format json", output(t, dir, append([]string{"check", "--format", "json"}, args...)...), l.quiet)
				// fix says nothing of what sources include.
				judge("fix --diff", output(t, dir, append([]string{"fix", "--diff"}, args...)...), true)
				judge("fix", output(t, dir, append([]string{"fix"}, args...)...), true)
			}
			if l.only != "check" {
				judge("serve", serveAll(t, dir, nil), l.quiet || l.unasked)
			}
		})
	}
}

// brief leaves the answers about lines away.
func brief(out string) string {
	var b strings.Builder
	for line := range strings.Lines(out) {
		if !strings.Contains(line, `,"result":`) {
			b.WriteString(line)
		}
	}
	return b.String()
}

var friendlyLayouts = []struct {
	layout
	want string // in the output of check: that the file has been read
}{
	{layout{name: "a file beside", files: including(`.include "b.inc"`, "repo/b.inc", "\tmovs r9, #1\n")}, "low-registers"},
	{layout{name: "a folder of the project file", files: including(`.include "b.inc"`, "repo/narrowgauge.json", `{"include":["inc"]}`, "repo/inc/b.inc", "\tmovs r9, #1\n")}, "low-registers"},
	{layout{name: "an absolute folder of the project file", files: including(`.include "b.inc"`, "repo/narrowgauge.json", `{"include":["%D/repo/inc"]}`, "repo/inc/b.inc", "\tmovs r9, #1\n")}, "low-registers"},
	{layout{name: "out and back", files: including(`.include "../repo/b.inc"`, "repo/b.inc", "\tmovs r9, #1\n")}, "low-registers"},
	{layout{name: "a link within", files: including(`.include "x.inc"`, "repo/sub/b.inc", "\tmovs r9, #1\n"), links: map[string]string{"repo/x.inc": "sub/b.inc"}}, "low-registers"},
	{layout{name: "an absolute link within", files: including(`.include "x.inc"`, "repo/sub/b.inc", "\tmovs r9, #1\n"), links: map[string]string{"repo/x.inc": "%D/repo/sub/b.inc"}}, "low-registers"},
	{layout{name: "a link out and back", files: including(`.include "x.inc"`, "repo/sub/b.inc", "\tmovs r9, #1\n"), links: map[string]string{"repo/x.inc": "../repo/sub/b.inc"}}, "low-registers"},
	{layout{name: "a folder that is a link within", files: including(`.include "inc/b.inc"`, "repo/sub/b.inc", "\tmovs r9, #1\n"), links: map[string]string{"repo/inc": "sub"}}, "low-registers"},
	{layout{name: "a source that is a link within", files: including("nop", "repo/sub/text", "\tmovs r9, #1\n"), links: map[string]string{"repo/x.s": "sub/text"}}, "no findings|low-registers|2 files"},
	{layout{name: "#include of a folder of the database", files: preprocessed(`#include "b.h"`, "repo/inc/b.h", "\tmovs r9, #1\n", "repo/build/compile_commands.json", command("gcc -I%D/repo/inc -c a.S"))}, "low-registers"},
	{layout{name: "#include of a relative folder of the database", files: preprocessed(`#include <b.h>`, "repo/inc/b.h", "\tmovs r9, #1\n", "repo/compile_commands.json", command("gcc -Iinc -c a.S"))}, "low-registers"},
	{layout{name: "a response file", files: preprocessed(`#include <b.h>`, "repo/inc/b.h", "\tmovs r9, #1\n", "repo/flags.rsp", "-Iinc", "repo/compile_commands.json", command("gcc @flags.rsp -c a.S"))}, "low-registers"},
	{layout{name: "-include", files: preprocessed("\tmovs HIGH, #1", "repo/conf/c.h", "#define HIGH r9\n", "repo/compile_commands.json", command("gcc -include conf/c.h -c a.S"))}, "low-registers"},
	{layout{name: "-include that an include folder has, with commands outside", files: preprocessed("\tmovs HIGH, #1", "repo/conf/c.h", "#define HIGH r9\n", "repo/compile_commands.json", `[{"directory":"%D/house","file":"%D/repo/a.S","command":"gcc -include c.h -I../repo/conf -c ../repo/a.S"}]`)}, "low-registers"},
	{layout{name: "a prelude", files: preprocessed("\tmovs HIGH, #1", "repo/c.h", "#define HIGH r9\n", "repo/narrowgauge.json", `{"prelude":["c.h"]}`)}, "low-registers"},
	{layout{name: "the bytes of a file", files: including(`.incbin "sub/b.bin", 99`, "repo/sub/b.bin", "12345")}, "the file has 5"},
	{layout{name: "a database that is a link within", files: preprocessed(`#include <b.h>`, "repo/inc/b.h", "\tmovs r9, #1\n", "repo/made/x.json", command("gcc -Iinc -c a.S")), links: map[string]string{"repo/compile_commands.json": "made/x.json"}}, "low-registers"},
	{layout{name: "a project file that is a link within", files: including(`.include "b.inc"`, "repo/made/x.json", `{"include":["inc"]}`, "repo/inc/b.inc", "\tmovs r9, #1\n"), links: map[string]string{"repo/narrowgauge.json": "made/x.json"}}, "low-registers"},
	{layout{name: "a database that the project file names", files: preprocessed(`#include <b.h>`, "repo/inc/b.h", "\tmovs r9, #1\n", "repo/narrowgauge.json", `{"compileCommands":"made"}`, "repo/made/compile_commands.json", command("gcc -Iinc -c a.S"))}, "low-registers"},

	{layout{name: "the project of a named file", only: "check", args: []string{"repo/src/a.s"}, files: map[string]string{"repo/src/a.s": head + ".include \"b.inc\"\n", "repo/narrowgauge.json": `{"include":["inc"]}`, "repo/inc/b.inc": "\tmovs r9, #1\n"}}, "low-registers"},
	{layout{name: "the project of a named folder", only: "check", args: []string{"repo/src"}, files: map[string]string{"repo/src/a.s": head + ".include \"b.inc\"\n", "repo/narrowgauge.json": `{"include":["inc"]}`, "repo/inc/b.inc": "\tmovs r9, #1\n"}}, "low-registers"},
	{layout{name: "the database of a named file", only: "check", args: []string{"repo/src/a.S"}, files: map[string]string{"repo/src/a.S": head + "#include <b.h>\n", "repo/build/compile_commands.json": `[{"directory":"%D/repo/build","file":"../src/a.S","command":"gcc -I../inc -c ../src/a.S"}]`, "repo/inc/b.h": "\tmovs r9, #1\n"}}, "low-registers"},
	{layout{name: "an include folder by hand", only: "check", args: []string{"repo", "-I", "lib"}, files: including(`.include "b.inc"`, "lib/b.inc", "\tmovs r9, #1\n")}, "low-registers"},
	{layout{name: "an absolute include folder by hand", only: "check", args: []string{"repo", "-I", "%D/lib"}, files: including(`.include "b.inc"`, "lib/b.inc", "\tmovs r9, #1\n")}, "low-registers"},
	{layout{name: "a prelude by hand", only: "check", args: []string{"repo", "--prelude", "%D/lib/c.h"}, files: preprocessed("\tmovs HIGH, #1", "lib/c.h", "#include \"d.h\"\n", "lib/d.h", "#define HIGH r9\n")}, "low-registers"},
	{layout{name: "a database by hand", only: "check", args: []string{"repo/a.S", "--compile-commands", "made/x.json"}, files: preprocessed(`#include <b.h>`, "made/inc/b.h", "\tmovs r9, #1\n", "made/x.json", command("gcc -I../made/inc -c a.S"))}, "low-registers"},
	{layout{name: "an allowed folder", only: "check", args: []string{"repo", "--read-also", "lib"}, files: including(`.include "../lib/b.inc"`, "lib/b.inc", "\tmovs r9, #1\n")}, "low-registers"},
	{layout{name: "an allowed folder that a link leads to", only: "check", args: []string{"repo", "--read-also", "lib"}, files: including(`.include "x.inc"`, "lib/b.inc", "\tmovs r9, #1\n"), links: map[string]string{"repo/x.inc": "../lib/b.inc"}}, "low-registers"},
	{layout{name: "an allowed folder of the project file", only: "check", args: []string{"repo", "--read-also", "lib"}, files: including(`.include "b.inc"`, "repo/narrowgauge.json", `{"include":["../lib"]}`, "lib/b.inc", "\tmovs r9, #1\n")}, "low-registers"},
	{layout{name: "a named file that is a link", only: "check", args: []string{"repo/x.s"}, files: including("nop", "lib/b.s", head+"\tmovs r9, #1\n"), links: map[string]string{"repo/x.s": "../lib/b.s"}}, "low-registers"},
	{layout{name: "a named folder that is a link", only: "check", args: []string{"link"}, files: including(`.include "b.inc"`, "repo/b.inc", "\tmovs r9, #1\n"), links: map[string]string{"link": "repo"}}, "low-registers"},
	{layout{name: "a named file that another one includes", only: "check", args: []string{"repo/a.s", "lib/b.inc"}, files: including(`.include "../lib/b.inc"`, "lib/b.inc", "\tmovs r9, #1\n")}, "2 files"},
	{layout{name: "two named folders", only: "check", args: []string{"repo", "lib"}, files: including(`.include "../lib/b.inc"`, "lib/b.inc", "\tmovs r9, #1\n", "lib/x.s", "\tnop\n")}, "low-registers"},
}

// TestFriendlyLayouts holds that what repositories may reach, and what the user
// names, is read.
func TestFriendlyLayouts(t *testing.T) {
	for _, l := range reftest.Sample(friendlyLayouts, 5) {
		t.Run(l.name, func(t *testing.T) {
			t.Parallel()
			dir := l.lay(t)
			args := []string{"repo"}
			if l.args != nil {
				args = slices.Clone(l.args)
				for i := range args {
					args[i] = strings.ReplaceAll(args[i], "%D", dir)
				}
			}
			judge := func(what, out string) {
				t.Helper()
				found := false
				for _, want := range strings.Split(l.want, "|") {
					found = found || strings.Contains(out, want)
				}
				if !found || strings.Contains(out, "readAlso") {
					t.Errorf("%s, want %s:\n%s", what, l.want, brief(out))
				}
			}
			judge("check", output(t, dir, append([]string{"check"}, args...)...))
			if l.only == "" && !strings.Contains(l.want, "files") {
				judge("serve", serveAll(t, dir, nil))
			}
		})
	}
}

// TestReadAlso holds that the editor's settings allow a folder, and that taking
// it back does.
func TestReadAlso(t *testing.T) {
	l := layout{files: including(`.include "../lib/b.inc"`, "lib/b.inc", "\tmovs r9, #1\n")}
	for _, allowed := range []string{"%D/lib", "../lib"} {
		dir := l.lay(t)
		out := serveAll(t, dir, map[string]any{"readAlso": []string{strings.ReplaceAll(allowed, "%D", dir)}})
		if !strings.Contains(out, "low-registers") || strings.Contains(out, "outside of the project") {
			t.Errorf("%s: %s", allowed, out)
		}
	}
	dir := l.lay(t)
	if out := output(t, dir, "check", "--read-also", "lib/b.inc", "repo"); !strings.Contains(out, "--read-also") || !strings.Contains(out, "not a folder") {
		t.Errorf("a file: %s", out)
	}
}

// TestFixWithin holds where fix writes: through a link that the user has named,
// through one within the folder, and through no other.
func TestFixWithin(t *testing.T) {
	const old, now = head + "\tadd r0, r1, r2\n\tcmp r0, #1\n\tbx lr\n", head + "\tadds r0, r1, r2\n\tcmp r0, #1\n\tbx lr\n"
	for _, tt := range []struct {
		name  string
		args  []string
		links map[string]string
		want  map[string]string
		left  string // a link that has to stay one
	}{
		{"a file", []string{"repo"}, nil, map[string]string{"repo/a.s": now, "lib/b.s": old}, ""},
		{"a link within", []string{"repo"}, map[string]string{"repo/x.s": "sub/text"}, map[string]string{"repo/sub/text": now}, "repo/x.s"},
		{"an absolute link within", []string{"repo"}, map[string]string{"repo/x.s": "%D/repo/sub/text"}, map[string]string{"repo/sub/text": now}, "repo/x.s"},
		{"a link outside", []string{"repo"}, map[string]string{"repo/x.s": "../lib/b.s"}, map[string]string{"repo/a.s": now, "lib/b.s": old}, "repo/x.s"},
		{"a link to a folder outside", []string{"repo"}, map[string]string{"repo/sub2": "../lib"}, map[string]string{"repo/a.s": now, "lib/b.s": old}, "repo/sub2"},
		{"a named link", []string{"repo/x.s"}, map[string]string{"repo/x.s": "../lib/b.s"}, map[string]string{"repo/a.s": old, "lib/b.s": now}, "repo/x.s"},
		{"a named folder that is a link", []string{"link"}, map[string]string{"link": "lib"}, map[string]string{"lib/b.s": now}, "link"},
		{"a link outside that is allowed", []string{"repo", "--read-also", "lib"}, map[string]string{"repo/x.s": "../lib/b.s"}, map[string]string{"lib/b.s": old}, "repo/x.s"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := layout{files: map[string]string{"repo/a.s": old, "repo/sub/text": old, "lib/b.s": old}, links: tt.links}.lay(t)
			out := output(t, dir, append([]string{"fix"}, tt.args...)...)
			for name, want := range tt.want {
				if got, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(got) != want {
					t.Errorf("%s: %v %q, want %q\n%s", name, err, got, want, out)
				}
			}
			if tt.left != "" {
				if info, err := os.Lstat(filepath.Join(dir, tt.left)); err != nil || info.Mode()&fs.ModeSymlink == 0 {
					t.Errorf("%s is no link any more: %v", tt.left, err)
				}
			}
			if rest, _ := filepath.Glob(filepath.Join(dir, "*", ".narrowgauge-*")); rest != nil {
				t.Errorf("left: %v", rest)
			}
		})
	}
}

// TestFixWhileLinksChange writes to a path that is now a file, now a link out,
// below a folder that is now one, now a link out.
func TestFixWhileLinksChange(t *testing.T) {
	dir := layout{files: map[string]string{"repo/sub/x.s": "old", "repo/y.s": "old", "lib/x.s": "outside", "lib/y.s": "outside"}}.lay(t)
	repo, at := filepath.Join(dir, "repo"), func(name string) string { return filepath.Join(dir, filepath.FromSlash(name)) }
	was := state(t, at("lib"))
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		for {
			select {
			case <-stop:
				return
			default:
			}
			_ = os.Rename(at("repo/sub"), at("repo/keep"))
			_ = os.Symlink("../lib", at("repo/sub"))
			_ = os.Remove(at("repo/sub"))
			_ = os.Rename(at("repo/keep"), at("repo/sub"))
			_ = os.Rename(at("repo/y.s"), at("repo/keep.s"))
			_ = os.Symlink("../lib/y.s", at("repo/y.s"))
			_ = os.Rename(at("repo/keep.s"), at("repo/y.s"))
		}
	})
	within := project.NewBounds(repo)
	written := 0
	for range reftest.Size(40, 400, 400) {
		for _, name := range []string{"repo/sub/x.s", "repo/y.s"} {
			old, info, err := within.Read(at(name))
			if err == nil && replaceIn(within, at(name), info, old, "new") == nil {
				written++
			}
		}
	}
	close(stop)
	wg.Wait()
	if written == 0 {
		t.Error("nothing was written at all")
	}
	if now := state(t, at("lib")); now != was {
		t.Errorf("outside is now\n%s\nwas\n%s", now, was)
	}
}

// TestToolchainFolders holds that a command may name the folders of a compiler
// of the system, and of no other one.
func TestToolchainFolders(t *testing.T) {
	found, _ := filepath.Glob("/usr/lib/gcc/arm-none-eabi/*/include/stddef.h")
	reftest.Need(t, len(found) > 0, "the headers of arm-none-eabi-gcc")
	include := filepath.Dir(found[0])
	for _, tt := range reftest.Sample([]struct {
		program string
		want    bool
	}{
		{"arm-none-eabi-gcc", true},
		{"/usr/bin/arm-none-eabi-gcc", true},
		{"/no/such/folder/arm-none-eabi-gcc", true},
		{"other-none-eabi-gcc", false},
		{"arm-none-eabi-as", false},
		{"touch", false},
	}, 3) {
		l := layout{files: preprocessed("#include \"stddef.h\"\n#ifdef offsetof\n\tmovs r9, #1\n#endif", "repo/compile_commands.json", command(tt.program+" -I"+include+" -c a.S"))}
		dir := l.lay(t)
		for what, out := range map[string]string{"check": output(t, dir, "check", "--preprocess", "always", "repo"), "serve": serveAll(t, dir, map[string]any{"preprocess": "always"})} {
			if got := strings.Contains(out, "low-registers"); got != tt.want || got == strings.Contains(out, "readAlso") {
				t.Errorf("%s, %s: %v, want %v:\n%s", tt.program, what, got, tt.want, brief(out))
			}
		}
	}
}

// TestHomeFolder holds that the home folder and the root of the disk are no
// project: from a file in them only the sources beside it are read.
func TestHomeFolder(t *testing.T) {
	for _, project := range []bool{false, true} {
		files := map[string]string{
			"home/a.s":          head + "\t.include \"b.inc\"\n\t.include \".keys/id\"\n\t.include \"notes\"\n\t.include \".hidden.inc\"\n\t.include \".keys/none\"\n",
			"home/b.inc":        "\tmovs r9, #1\n",
			"home/.keys/id":     "hunter22\n",
			"home/notes":        "hunter22\n",
			"home/.hidden.inc":  "hunter22\n",
			"home/clone/repo.s": "\t.include \"../notes\"\n\t.include \"../.keys/id\"\n",
		}
		if project {
			files["home/narrowgauge.json"] = `{"syntax":"unified"}`
			files["home/compile_commands.json"] = `[{"directory":"%D/home","file":"clone/repo.s","command":"as clone/repo.s"}]`
		}
		dir := layout{files: files}.lay(t)
		cmd := process("check", "a.s", "clone/repo.s")
		cmd.Dir = filepath.Join(dir, "home")
		cmd.Env = append(os.Environ(), "HOME="+cmd.Dir)
		out, _ := cmd.CombinedOutput()
		if strings.Contains(string(out), "hunter22") || strings.Count(string(out), "readAlso") != 6 || !strings.Contains(string(out), "low-registers") {
			t.Errorf("with a project file %v:\n%s", project, out)
		}
	}
}

// TestSharedFolder holds the same of a folder in which everybody may write: a
// project file there is that of somebody else.
func TestSharedFolder(t *testing.T) {
	dir := layout{files: map[string]string{
		"tmp/narrowgauge.json": `{"cpu":"hunter22"}`, "tmp/compile_commands.json": `[{"directory":"%D/tmp","file":"box/a.s","command":"gcc -mcpu=hunter22 box/a.s"}]`,
		"tmp/notes": "hunter22\n", "tmp/box/a.s": "\t.include \"../notes\"\n",
	}}.lay(t)
	if err := os.Chmod(filepath.Join(dir, "tmp"), 0o777|fs.ModeSticky); err != nil {
		t.Fatal(err)
	}
	if out := output(t, dir, "check", "tmp/box/a.s"); strings.Contains(out, "hunter22") || !strings.Contains(out, "readAlso") {
		t.Error(out)
	}
}

// state is a folder's whole content, with times.
func state(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		data, err := os.ReadFile(path)
		fmt.Fprintf(&b, "%s %v %v %d\n", path, info.Mode(), info.ModTime(), len(data))
		if len(data) < 1000 {
			b.Write(data)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// process is this program as a process of its own.
func process(args ...string) *exec.Cmd {
	self, err := os.Executable()
	if err != nil {
		panic(err)
	}
	return &exec.Cmd{Path: self, Args: append([]string{"narrowgauge"}, args...)}
}

// output gives what the program says on both outputs.
func output(t *testing.T, dir string, args ...string) string {
	t.Helper()
	cmd := process(args...)
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() < 0 || exit.ExitCode() > 2) {
		t.Errorf("%v: %v\n%s", args, err, out)
	}
	return string(out)
}

// session is a client of a served process.
type session struct {
	t    *testing.T
	in   io.Writer
	mu   sync.Mutex
	said bytes.Buffer        // every message
	new  chan map[string]any // those that have come
	next int
}

func (s *session) send(method string, params any, request bool) {
	msg := map[string]any{"jsonrpc": "2.0", "method": method, "params": params}
	if request {
		s.next++
		msg["id"] = s.next
	}
	body, err := json.Marshal(msg)
	if err == nil {
		_, err = fmt.Fprintf(s.in, "Content-Length: %d\r\n\r\n%s", len(body), body)
	}
	if err != nil {
		s.t.Fatalf("%s: %v", method, err)
	}
}

// ask sends a request and waits for its answer.
func (s *session) ask(method string, params any) {
	s.t.Helper()
	s.send(method, params, true)
	s.await(method, func(m map[string]any) bool { return m["id"] == float64(s.next) && m["method"] == nil })
}

func (s *session) await(what string, is func(m map[string]any) bool) {
	s.t.Helper()
	timeout := time.After(30 * time.Second) // bounds a failure only
	for {
		select {
		case m, ok := <-s.new:
			if !ok {
				s.t.Fatalf("the server has ended before %s:\n%s", what, s.said.String())
			}
			if is(m) {
				return
			}
		case <-timeout:
			s.t.Fatalf("no answer to %s:\n%s", what, s.said.String())
		}
	}
}

func (s *session) read(r io.Reader) {
	defer close(s.new)
	in := bufio.NewReader(r)
	for {
		length := 0
		for {
			line, err := in.ReadString('\n')
			if err != nil {
				return
			}
			if line == "\r\n" {
				break
			}
			if v, ok := strings.CutPrefix(line, "Content-Length: "); ok {
				length, _ = strconv.Atoi(strings.TrimSpace(v))
			}
		}
		body := make([]byte, length)
		if _, err := io.ReadFull(in, body); err != nil {
			return
		}
		var m map[string]any
		_ = json.Unmarshal(body, &m)
		s.mu.Lock()
		s.said.Write(body)
		s.said.WriteByte('\n')
		s.mu.Unlock()
		s.new <- m
	}
}

// serveAll serves the folder repo to a client that opens every source which is no
// link, asks all there is to ask about each line, and says that everything has
// changed. It gives all that the server has said, with its log.
func serveAll(t *testing.T, dir string, settings map[string]any) string {
	t.Helper()
	repo := filepath.Join(dir, "repo")
	cmd := process("serve", "--debug")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "XDG_CACHE_HOME="+t.TempDir())
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	cmd.Stderr = &log
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	s := &session{t: t, in: in, new: make(chan map[string]any, 10_000)}
	go s.read(out)
	folder := func(path string) string { return (&url.URL{Scheme: "file", Path: filepath.ToSlash(path)}).String() }
	s.ask("initialize", map[string]any{"rootUri": folder(repo), "initializationOptions": settings, "capabilities": map[string]any{
		"textDocument": map[string]any{"publishDiagnostics": map[string]any{"relatedInformation": true}, "hover": map[string]any{"contentFormat": []string{"markdown"}},
			"codeAction": map[string]any{"codeActionLiteralSupport": map[string]any{}}}}})
	s.send("initialized", map[string]any{}, false)
	var docs, changed []string
	_ = filepath.WalkDir(repo, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			changed = append(changed, path)
		}
		if err == nil && d.Type().IsRegular() && project.IsSource(path) {
			docs = append(docs, path)
		}
		return nil
	})
	if len(docs) == 0 {
		t.Fatal("nothing to open")
	}
	questions := func(path, text string, step int) {
		doc := map[string]any{"uri": folder(path)}
		for i, line := range strings.Split(text, "\n") {
			for at := 0; at <= len(line); at += step {
				place := map[string]any{"textDocument": doc, "position": map[string]any{"line": i, "character": at}, "context": map[string]any{"includeDeclaration": true}}
				s.ask("textDocument/hover", place)
				s.ask("textDocument/definition", place)
				if at == 0 {
					s.ask("textDocument/references", place)
					s.ask("textDocument/codeAction", map[string]any{"textDocument": doc, "context": map[string]any{"diagnostics": []any{}},
						"range": map[string]any{"start": map[string]any{"line": i, "character": 0}, "end": map[string]any{"line": i, "character": len(line)}}})
				}
			}
		}
		s.ask("textDocument/documentSymbol", map[string]any{"textDocument": doc})
	}
	for _, path := range docs {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		s.send("textDocument/didOpen", map[string]any{"textDocument": map[string]any{"uri": folder(path), "languageId": "asm", "version": 1, "text": string(text)}}, false)
		s.await("findings of "+path, func(m map[string]any) bool {
			p, _ := m["params"].(map[string]any)
			return m["method"] == "textDocument/publishDiagnostics" && p["uri"] == folder(path)
		})
		questions(path, string(text), 3)
	}
	var events []map[string]any
	for _, path := range changed {
		events = append(events, map[string]any{"uri": folder(path), "type": 2})
	}
	for name := range house {
		events = append(events, map[string]any{"uri": folder(filepath.Join(dir, name)), "type": 1})
	}
	s.send("workspace/didChangeWatchedFiles", map[string]any{"changes": events}, false)
	for _, path := range docs {
		text, _ := os.ReadFile(path)
		s.send("textDocument/didSave", map[string]any{"textDocument": map[string]any{"uri": folder(path)}}, false)
		questions(path, string(text), 20)
	}
	s.ask("shutdown", nil)
	s.send("exit", nil, false)
	for range s.new {
	}
	if err := cmd.Wait(); err != nil {
		t.Errorf("serve: %v", err)
	}
	return s.said.String() + log.String()
}
