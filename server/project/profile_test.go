package project

import (
	"reflect"
	"strings"
	"testing"

	"narrowgauge/analysis"
)

func TestMatches(t *testing.T) {
	for _, c := range []struct {
		pattern string
		yes, no []string
	}{
		{"boot.s", []string{"boot.s"}, []string{"x/boot.s", "boot.S", "boot"}},
		{"*.s", []string{"a.s", ".s"}, []string{"x/a.s", "a.S"}},
		{"boot/", []string{"boot/a.s", "boot/x/y/b.S", "boot"}, []string{"boots/a.s", "x/boot/a.s"}},
		{"boot/*", []string{"boot/a.s"}, []string{"boot/x/a.s", "boot"}},
		{"**/crt?.S", []string{"crt0.S", "a/b/crti.S"}, []string{"crt.S", "crt00.S"}},
		{"a/**/z/*.s", []string{"a/z/q.s", "a/b/c/z/q.s"}, []string{"a/z/b/q.s", "z/q.s"}},
		{"./a/[bc].s", []string{"a/b.s"}, []string{"a/d.s"}},
		{"**", []string{"a", "a/b/c.s"}, nil},
	} {
		for _, name := range c.yes {
			if !Matches(c.pattern, name) {
				t.Errorf("%s does not mean %s", c.pattern, name)
			}
		}
		for _, name := range c.no {
			if Matches(c.pattern, name) {
				t.Errorf("%s means %s", c.pattern, name)
			}
		}
	}
	if !Matches(strings.Repeat("**/", 2000)+"x", strings.Repeat("a/", 2000)+"x") {
		t.Error("many folders are not found")
	}
}

func TestProfiles(t *testing.T) {
	p := &Project{Path: "/box/narrowgauge.json"}
	problems := decodeSettings([]byte(`{"$schema": "x", "cpu": "cortex-m3", "severity": ["syntax=hint"],
 "profiles": [{"files": ["boot/", "*.S"], "arch": "armv6-m"}, {"files": ["boot/late/**"], "syntax": "unified", "severity": ["data-range=off"]}]}`), p)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	hint, none := []string{"syntax=hint"}, []string{"data-range=off"}
	for source, want := range map[string]analysis.Settings{
		"/box/main.s":        {CPU: "cortex-m3", Severity: hint},
		"/box/top.S":         {Arch: "armv6-m", Severity: hint},
		"/box/boot/a.s":      {Arch: "armv6-m", Severity: hint},
		"/box/boot/late/b.s": {Arch: "armv6-m", Syntax: "unified", Severity: none},
		"/other/boot/a.s":    {CPU: "cortex-m3", Severity: hint},
	} {
		got, at := p.For(source)
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, want %+v", source, got, want)
		}
		if place := at("severity"); !strings.HasPrefix(place, "/box/narrowgauge.json:") || strings.HasSuffix(place, ":2:2") != (source == "/box/boot/late/b.s") {
			t.Errorf("%s: severity is at %s", source, place)
		}
	}
}

func TestBadProfiles(t *testing.T) {
	for text, want := range map[string]string{
		`{"profiles": {}}`:                                                                 `"profiles" takes a list of objects`,
		`{"profiles": [1]}`:                                                                `one of them is a number`,
		`{"profiles": [{"cpu": "x"}]}`:                                                     `profile 1 has no "files"`,
		`{"profiles": [{"files": "x"}]}`:                                                   `profile 1: "files" takes a list`,
		`{"profiles": [{"files": ["../x"]}]}`:                                              `leads out of this folder`,
		`{"profiles": [{"files": ["/x"]}]}`:                                                `is no pattern of paths below this folder`,
		`{"profiles": [{"files": ["a[b"]}]}`:                                               `has a bracket that is not closed`,
		`{"profiles": [{"files": ["a"], "cpuu": "x"}]}`:                                    `profile 1: there is no setting "cpuu"`,
		`{"profiles": [{"files": ["a"], "cpu": 1}]}`:                                       `profile 1: "cpu" takes a text`,
		`{"profiles": [{"files": ["a"], "profiles": []}]}`:                                 `profile 1: there is no setting "profiles"`,
		`{"profiles": [{"files": ["a"], "readAlso": ["/"]}]}`:                              `a project file cannot give it`,
		`{"profiles": [` + strings.Repeat(`{"files": ["a"]},`, 300) + `{"files": ["a"]}]}`: `at most 200 are read`,
	} {
		p := &Project{Path: "/box/narrowgauge.json"}
		if got := strings.Join(decodeSettings([]byte(text), p), "\n"); !strings.Contains(got, want) {
			t.Errorf("%.60s: %q, want %q", text, got, want)
		}
	}
}
