package project

import (
	"encoding/json"
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"narrowgauge/analysis"
)

// profilesKey is the member of a project file that has its profiles.
const profilesKey = "profiles"

// Profile are settings for some of the sources of a project. Its JSON object has the fields
// of [analysis.Settings] and Files.
type Profile struct {
	// Files are patterns of paths below the folder of the project file, with slashes: * is
	// anything within a name, ? one character, ** any number of folders; a pattern that
	// ends in a slash means all that is in the folder.
	Files    []string
	Settings analysis.Settings
	keys     map[string]aPlace
}

// For are the settings for a source, named by its absolute path: those of the last profile that
// has it, filled from those before it and then from the file itself. at is where a setting
// is given.
func (p *Project) For(source string) (set analysis.Settings, at func(setting string) string) {
	at = p.At
	if len(p.Profiles) == 0 {
		return p.Settings, at
	}
	rel, err := filepath.Rel(filepath.Dir(p.Path), source)
	if err != nil {
		return p.Settings, at
	}
	rel = filepath.ToSlash(rel)
	for _, f := range slices.Backward(p.Profiles) {
		if !slices.ContainsFunc(f.Files, func(pattern string) bool { return Matches(pattern, rel) }) {
			continue
		}
		set = Fill(set, f.Settings)
		above := at
		at = func(setting string) string {
			if k, ok := f.keys[setting]; ok {
				return p.Path + ":" + k.String()
			}
			return above(setting)
		}
	}
	return Fill(set, p.Settings), at
}

// Matches says whether a pattern of a profile means a path; both have slashes.
func Matches(pattern, name string) bool {
	if strings.HasSuffix(pattern, "/") {
		pattern += "**"
	}
	return matches(strings.Split(strings.TrimPrefix(pattern, "./"), "/"), strings.Split(name, "/"))
}

func matches(pattern, name []string) bool {
	// at says, for each beginning of name, whether the pattern so far may end there.
	at := make([]bool, len(name)+1)
	at[0] = true
	for _, part := range pattern {
		next := make([]bool, len(name)+1)
		for i := range at {
			switch {
			case part == "**":
				next[i] = at[i] || i > 0 && next[i-1]
			case i > 0 && at[i-1]:
				next[i], _ = path.Match(part, name[i-1])
			}
		}
		at = next
	}
	return at[len(name)]
}

// maxProfiles is how many profiles a project file may have.
const maxProfiles = 200

// profiles decodes the profiles of a project file.
func (d *decoder) profiles(at aPlace, value json.RawMessage) (out []Profile) {
	const want = `%q takes a list of objects, as in [{"files": ["boot/"], "arch": "armv6-m"}]%s`
	if kindOf(value) != "a list" {
		d.add(at, want, profilesKey, ", and here is "+kindOf(value))
		return nil
	}
	var list []json.RawMessage
	if json.Unmarshal(value, &list) != nil {
		return nil // all of the file has been looked at
	}
	if len(list) > maxProfiles {
		d.add(at, "there are %d profiles; at most %d are read", len(list), maxProfiles)
		list = list[:maxProfiles]
	}
	for i, raw := range list {
		if kindOf(raw) != "an object" {
			d.add(at, want, profilesKey, ", and one of them is "+kindOf(raw))
			continue
		}
		sub := &decoder{data: raw, keys: map[string]aPlace{}, fixed: &at}
		var p Profile
		sub.inProfile = &p
		sub.decode(&p.Settings)
		for _, problem := range sub.problems {
			_, what, _ := strings.Cut(problem, ": ")
			d.add(at, "profile %d: %s", i+1, what)
		}
		if len(p.Files) == 0 && len(sub.problems) == 0 {
			d.add(at, `profile %d has no "files", so it is for none; as in "files": ["boot/"]`, i+1)
		}
		for _, f := range p.Files {
			if err := wellFormed(f); err != nil {
				d.add(at, "profile %d: %v", i+1, err)
			}
		}
		p.keys = sub.keys
		out = append(out, p)
	}
	return out
}

// wellFormed says what is wrong with a pattern.
func wellFormed(pattern string) error {
	if pattern == "" || filepath.IsAbs(pattern) || strings.HasPrefix(pattern, "/") || strings.Contains(pattern, `\`) {
		return fmt.Errorf("%q is no pattern of paths below this folder, with slashes", pattern)
	}
	for part := range strings.SplitSeq(pattern, "/") {
		if part == ".." {
			return fmt.Errorf("%q leads out of this folder, where no source of the project is", pattern)
		}
		if _, err := path.Match(part, ""); err != nil {
			return fmt.Errorf("%q has a bracket that is not closed", pattern)
		}
	}
	return nil
}
