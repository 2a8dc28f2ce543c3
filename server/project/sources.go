package project

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Sources are the files of a folder that take part in programs, or may.
type Sources struct {
	Programs []string // sources in assembly that are programs' parts of their own, by their names
	Texts    []string // sources in other languages and scripts of linkers, which may name what those define
	Objects  int      // libraries and objects, of which nobody here knows what they define
	All      bool     // no limit has ended the search
}

// The endings of files that define or use names beside assembly, in lower case: what compilers,
// archivers and linkers take.
var (
	textNames   = []string{".c", ".h", ".cc", ".cpp", ".cxx", ".c++", ".hh", ".hpp", ".hxx", ".rs", ".zig", ".f90", ".adb", ".ads", ".pas", ".swift", ".ld", ".lds", ".sct", ".icf", ".scf"}
	objectNames = []string{".o", ".obj", ".a", ".lib", ".so", ".ko", ".elf", ".axf"}
)

// FindSources looks for sources in a folder and those below it, in the order of their paths,
// up to most programs. Hidden folders are left out, and links are not followed to folders.
func FindSources(ctx context.Context, dir string, most int) (out Sources) {
	out.All = true
	entries := 0
	if info, err := os.Lstat(dir); err == nil && info.Mode()&fs.ModeSymlink != 0 {
		dir += string(filepath.Separator) // the folder that the link leads to
	}
	_ = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if entries++; entries > maxScanEntries || len(out.Programs) > most || ctx.Err() != nil {
			out.All = false
			return fs.SkipAll
		}
		switch {
		case err != nil:
			return nil // what cannot be listed is left out
		case d.IsDir():
			if path != dir && (strings.HasPrefix(d.Name(), ".") || d.Name() == "node_modules") {
				return fs.SkipDir
			}
			return nil
		case !d.Type().IsRegular() && d.Type()&fs.ModeSymlink == 0:
			return nil
		}
		switch ext := filepath.Ext(path); {
		case slices.Contains(ProgramNames, ext):
			out.Programs = append(out.Programs, filepath.Clean(path))
		case slices.Contains(textNames, strings.ToLower(ext)):
			out.Texts = append(out.Texts, filepath.Clean(path))
		case slices.Contains(objectNames, strings.ToLower(ext)):
			out.Objects++
		}
		return nil
	})
	if len(out.Programs) > most {
		out.Programs = out.Programs[:most]
	}
	return out
}

// Groups are the names of what a build makes of a source together with others, as a
// compilation database tells by the places of its objects; none where it does not. where is the
// setting compileCommands, as for [Commands.Find].
func (c *Commands) Groups(source, where string, b *Bounds) (out []string) {
	cmd := c.Find(source, where, b)
	if cmd == nil || !cmd.Named {
		return nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	db := c.files[cmd.Path]
	if db == nil {
		return nil
	}
	e := db.entries[source]
	if e == nil && db.real != nil {
		if real, err := filepath.EvalSymlinks(source); err == nil {
			e = db.real[real]
		}
	}
	if e == nil {
		return nil
	}
	for _, output := range e.outputs {
		if g := groupOf(output); g != "" {
			g = cmd.Path + ": " + g
			if !slices.Contains(out, g) {
				out = append(out, g)
			}
		}
	}
	return out
}

// groupOf is the folder of an object that has the name of what is linked from it and others:
// common build tools call it NAME.dir or NAME.p (common practice; from memory). Empty: there is
// no such folder.
func groupOf(output string) string {
	parts := strings.Split(filepath.ToSlash(output), "/")
	for i := len(parts) - 2; i >= 0; i-- {
		if strings.HasSuffix(parts[i], ".dir") || strings.HasSuffix(parts[i], ".p") {
			return strings.Join(parts[:i+1], "/")
		}
	}
	return ""
}

// outputOf is where the object of an entry comes to, as its command says.
func outputOf(output, command string, args []string) string {
	if output != "" {
		return output
	}
	if args == nil {
		args = strings.Fields(command)
	}
	for i, a := range args {
		if a == "-o" && i+1 < len(args) {
			return strings.Trim(args[i+1], `"'`)
		}
	}
	return ""
}
