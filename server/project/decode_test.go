package project

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"narrowgauge/analysis"
)

// TestDecodeSettings is a table of settings files and what is said of them. All but the
// mistakes is read.
func TestDecodeSettings(t *testing.T) {
	for _, tt := range []struct {
		text string
		want []string // the beginnings of what is said
		read analysis.Settings
	}{
		{`{}`, nil, analysis.Settings{}},
		{byteOrderMark + `{"cpu": "cortex-m0"}`, nil, analysis.Settings{CPU: "cortex-m0"}},
		{`{"CPU": "cortex-m0", "Include": ["inc"]}`, nil, analysis.Settings{CPU: "cortex-m0", Include: []string{"inc"}}},
		{`{"cpu": null}`, nil, analysis.Settings{}},
		{`{"cpu": "a", "cpu": "b"}`, nil, analysis.Settings{CPU: "b"}},
		{"{\n \"cpuu\": \"x\",\r\n\t\"fpu\": \"vfp\"\n}", []string{`2:2: there is no setting "cpuu"; similar names: cpu`}, analysis.Settings{FPU: "vfp"}},
		{`{"\u00e4\u00f6": 1}`, []string{`1:2: there is no setting "äö"; known are alignUnit, arch, `}, analysis.Settings{}},
		{"{\"cpu\": 3,\n\"arch\": [\"a\"], \"fpu\": {}, \"syntax\": true, \"include\": \"inc\",\n\"defines\": [1], \"symbols\": [\"A=1\"]}",
			[]string{"1:2: \"cpu\" takes a text in quotes, and here is a number", "2:1: \"arch\" takes a text in quotes, and here is a list", "2:16: \"fpu\" takes a text in quotes, and here is an object",
				"2:27: \"syntax\" takes a text in quotes, and here is true or false", "2:43: \"include\" takes a list of texts, as in [\"…\", \"…\"], and here is a text"}, analysis.Settings{Symbols: []string{"A=1"}}},
		{`{"include": [1, "inc"]}`, []string{"1:2: \"include\" takes a list of texts, as in [\"…\", \"…\"], and here is a list of other things"}, analysis.Settings{}},
		{`{"wordBytes": 2}`, []string{`1:2: "wordBytes" takes a text in quotes, and here is a number; write "wordBytes": "2"`}, analysis.Settings{}},
		{`{"readAlso": ["/"], "cpu": "x"}`, []string{"1:2: the setting readAlso is one for the command line and the editor; a project file cannot give it"}, analysis.Settings{CPU: "x"}},
		{"", []string{"1:1: the file is empty"}, analysis.Settings{}},
		{" \n", []string{"1:1: the file is empty"}, analysis.Settings{}},
		{"\n []", []string{"2:2: the file has a list; it has to be one object"}, analysis.Settings{}},
		{`"cpu"`, []string{"1:1: the file has a text"}, analysis.Settings{}},
		{"17", []string{"1:1: the file has a number"}, analysis.Settings{}},
		{"null", []string{"1:1: the file has null"}, analysis.Settings{}},
		{"{\n \"cpu\": \"x\",\n}", []string{"2:12: there is a comma with nothing after it"}, analysis.Settings{}},
		{`{"include": ["a",]}`, []string{"1:17: there is a comma with nothing after it"}, analysis.Settings{}},
		{`{"cpu": }`, []string{"1:9: the value is missing after the colon"}, analysis.Settings{}},
		{`{"cpu": , "fpu": "x"}`, []string{"1:9: the value is missing after the colon"}, analysis.Settings{}},
		{`{cpu: "x"}`, []string{"1:2: a setting's name in double quotes"}, analysis.Settings{}},
		{`{'cpu': "x"}`, []string{"1:2: texts are in double quotes"}, analysis.Settings{}},
		{"{\"cpu\": \"x\"\n\"fpu\": \"y\"}", []string{"2:1: a comma is missing before this"}, analysis.Settings{}},
		{`{"cpu" "x"}`, []string{"1:8: a colon has to be after a setting's name"}, analysis.Settings{}},
		{`{"cpu": "x"`, []string{"1:12: the file ends too early"}, analysis.Settings{}},
		{`{"cpu": "x`, []string{"1:11: the file ends too early"}, analysis.Settings{}},
		{"{ // the core\n}", []string{"1:3: JSON has no comments"}, analysis.Settings{}},
		{"# the core\n{}", []string{"1:1: JSON has no comments"}, analysis.Settings{}},
		{`{} {}`, []string{"1:4: there is something after the end of the object"}, analysis.Settings{}},
		{"{\"cpu\": \"a\nb\"}", []string{"1:11: a text ends on the line where it begins"}, analysis.Settings{}},
		{`{"include": ["C:\inc"]}`, []string{"1:18: this is no escape sequence of JSON"}, analysis.Settings{}},
		{"cpu = cortex-m0", []string{"1:1: this is not JSON"}, analysis.Settings{}},
		{strings.Repeat("[", 20_000), []string{"1:10001: the lists or objects are nested too deep"}, analysis.Settings{}},
		{`{"` + strings.Repeat("x", 5000) + `": 1}`, []string{`1:2: there is no setting "` + strings.Repeat("x", 60) + `…"`}, analysis.Settings{}},
	} {
		var p Project
		got := decodeSettings([]byte(tt.text), &p)
		read := p.Settings
		same := len(got) == len(tt.want)
		for i := 0; same && i < len(got); i++ {
			same = strings.HasPrefix(got[i], tt.want[i])
		}
		if !same || !reflect.DeepEqual(read, tt.read) {
			t.Errorf("%.100q: %+v\n%q, want\n%q", tt.text, read, got, tt.want)
		}
		if (len(got) == 0) != (json.Unmarshal([]byte(strings.TrimPrefix(tt.text, byteOrderMark)), new(analysis.Settings)) == nil) && tt.want == nil {
			t.Errorf("%.100q is read otherwise by encoding/json", tt.text)
		}
	}
}

// TestSettingPlaces holds that settings have the places of their keys.
func TestSettingPlaces(t *testing.T) {
	p := &Project{Path: "narrowgauge.json"}
	decodeSettings([]byte("{\n\t\"cpu\": \"x\", \"Arch\": \"y\"\n}"), p)
	for setting, want := range map[string]string{"cpu": "narrowgauge.json:2:2", "arch": "narrowgauge.json:2:14", "fpu": "narrowgauge.json"} {
		if got := p.At(setting); got != want {
			t.Errorf("%s is at %s, want %s", setting, got, want)
		}
	}
}
