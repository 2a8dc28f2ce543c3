package main

import (
	"encoding/json"
	"path/filepath"
	"slices"
	"testing"

	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// TestRealSight looks at sources that nobody here wrote as a new user does: without a
// setting, from the topmost folder of the package. What the assembler takes for some
// target must have no error.
func TestRealSight(t *testing.T) {
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue // the assembler does not read them
		}
		t.Run(p.Name, func(t *testing.T) {
			dir := p.Unpack(t)
			taken := takenFiles(t, p, dir)
			targets, errors := map[string]string{}, map[string][]string{}
			files, asked := p.Files(t, dir), []string{"."}
			if reftest.Part() {
				files = reftest.Sample(files, 6)
				asked = files
			}
			for _, f := range firstSight(t, dir, asked...) {
				switch {
				case f.Code == "target-guessed":
					targets[f.File] = f.Message
				case f.Severity == "error":
					errors[f.File] = append(errors[f.File], f.Message)
				}
			}
			wrong := 0
			for _, file := range files {
				t.Logf("%s: %s", file, targets[file])
				if !taken[file] {
					continue
				}
				wrong += len(errors[file])
				for _, m := range errors[file][:min(3, len(errors[file]))] {
					t.Errorf("%s: %s", file, m)
				}
			}
			proof.Counted("%s at first sight: %d files, %d of which the assembler takes for some target, %d guessed, %d errors in what it takes",
				p.Name, len(files), len(taken), len(targets), wrong)
		})
	}
}

// takenFiles are the files of a package that the assembler takes for some target.
func takenFiles(t *testing.T, p *sources.Package, dir string) map[string]bool {
	t.Helper()
	units := reftest.Share(p.Units(t, dir), 31, 5)
	sources.Expand(t, units)
	units = slices.DeleteFunc(units, func(u *sources.Unit) bool { return u.Refused })
	programs := make([]reftest.Program, len(units))
	for i, u := range units {
		programs[i] = reftest.Program{Text: u.Text, Flags: u.Config.Flags()}
	}
	taken := map[string]bool{}
	for i, v := range reftest.AssemblePrograms(t, programs) {
		if v.OK {
			taken[units[i].File] = true
		}
	}
	return taken
}

// firstSight gives what the program says of a folder, paths from there.
func firstSight(t *testing.T, dir string, asked ...string) (list []jsonFinding) {
	t.Helper()
	cmd := process(append([]string{"check", "--format", "json", "--rewrites=false"}, asked...)...)
	cmd.Dir = dir
	out, err := cmd.Output()
	if err := json.Unmarshal(out, &list); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if err != nil && len(list) == 0 {
		t.Fatal(err)
	}
	for i := range list {
		list[i].File = filepath.ToSlash(list[i].File)
	}
	return list
}
