package project

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

// A compiler searches folders of its own, and compilation databases name them as
// well. The database is not believed about them, and no compiler is run to ask:
// the name of the program is looked up where the system keeps programs, and next
// to it are the folders of a fixed list.

// standardPrefixes are the folders in which systems install compilers, each with
// bin below it. A * means any name.
var standardPrefixes = []string{"/usr", "/usr/local", "/opt/*", "/opt/*/*", "/usr/lib/llvm-*"}

// The include folders of compilers below the folder where they are installed, T
// for the target in the program's name (GCC manual, "Directory Options"; GCC
// internals, "Driver"; the packages of Debian 12; those of Clang from memory).
var (
	crossFolders  = []string{"lib/gcc/T/*/include", "lib/gcc/T/*/include-fixed", "lib/gcc-cross/T/*/include", "T/include", "T/sys-include", "T/libc/usr/include", "lib/T/include", "include/newlib"}
	nativeFolders = []string{"lib/gcc/*/*/include", "lib/gcc/*/*/include-fixed", "include"}
	clangFolders  = []string{"lib/clang/*/include", "lib/llvm-*/lib/clang/*/include", "include"}
)

// programName is the name of a compiler, with its target, if it has one, in front
// and a version after.
var programName = Pattern(`^(?:([a-z0-9_]+(?:-[a-z0-9_.]+)*)-)?(?:gcc|g\+\+|cc|c\+\+|cpp|clang|clang\+\+|clang-cpp)(?:-[0-9.]+)?(?:\.exe)?$`)

// tools keeps what has been found of compilers. The zero value is usable, with a
// lock around it.
type tools struct{ found map[string][]installed }

// installed is a compiler in one of the folders for programs.
type installed struct {
	real    string   // the program, links followed
	folders []string // that it has for included files
}

// folders lists the include folders of the compiler that a command calls as
// program. Of its path only the name counts, unless it is one of the system's:
// PATH and the standard folders say where the compiler is. Programs within the
// bounds are passed over: what a repository brings is no compiler of the system.
func (t *tools) folders(kind tool, program string, b *Bounds) (out []string) {
	key := fmt.Sprint(kind, program)
	list, ok := t.found[key]
	if !ok {
		if t.found == nil || len(t.found) > 1000 {
			t.found = map[string][]installed{}
		}
		list = compilers(kind, program)
		t.found[key] = list
	}
	for _, c := range list {
		if b.Outside(c.real) {
			out = append(out, c.folders...)
		}
	}
	return out
}

// compilers looks for a program.
func compilers(kind tool, program string) (out []installed) {
	name := program[strings.LastIndexAny(program, `/\`)+1:]
	m := programName().FindStringSubmatch(name)
	if m == nil || kind == assembler {
		return nil
	}
	list := crossFolders
	switch {
	case kind == clang:
		list = clangFolders
	case m[1] == "":
		list = nativeFolders
	}
	var seen []string
	for _, bin := range programFolders(program) {
		path := filepath.Join(bin, name)
		info, err := os.Stat(path)
		if err != nil || !info.Mode().IsRegular() || info.Mode().Perm()&0o111 == 0 && runtime.GOOS != "windows" {
			continue
		}
		c := installed{real: follow(path)}
		for _, bin := range []string{bin, filepath.Dir(c.real)} {
			prefix := filepath.Dir(bin)
			if filepath.Base(bin) != "bin" || slices.Contains(seen, prefix) {
				continue
			}
			seen = append(seen, prefix)
			for _, pattern := range list {
				found, _ := filepath.Glob(filepath.Join(prefix, filepath.FromSlash(strings.ReplaceAll(pattern, "T", m[1]))))
				c.folders = append(c.folders, found...)
			}
		}
		out = append(out, c)
	}
	return out
}

// programFolders lists the folders in which a command's program is looked for.
func programFolders(program string) (out []string) {
	for _, dir := range filepath.SplitList(os.Getenv("PATH")) {
		if filepath.IsAbs(dir) {
			out = append(out, dir)
		}
	}
	own := filepath.Dir(program)
	for _, prefix := range standardPrefixes {
		// Below /opt are many compilers; the command says which.
		if bin := filepath.Join(prefix, "bin"); !strings.Contains(prefix, "*") {
			out = append(out, bin)
		} else if ok, _ := filepath.Match(bin, own); ok {
			out = append(out, own)
		}
	}
	return out
}
