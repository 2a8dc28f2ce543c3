package project

import (
	"encoding/json"
	"testing"

	"narrowgauge/analysis"
)

// TestInsert writes settings into project files of several styles: the result has them, and all
// that was there.
func TestInsert(t *testing.T) {
	t.Parallel()
	members := Fixed(&analysis.Settings{Arch: "armv7-m", StartMode: "thumb", Defines: []string{"LAMPS=\"4\""}})
	for text, want := range map[string]string{
		"{}":                            `{"arch": "armv7-m", "startMode": "thumb", "defines": ["LAMPS=\"4\""]}`,
		"{\n}\n":                        "{\n  \"arch\": \"armv7-m\",\n  \"startMode\": \"thumb\",\n  \"defines\": [\"LAMPS=\\\"4\\\"\"]\n}\n",
		"{ \"include\": [\"a\"] }":      `{ "arch": "armv7-m", "startMode": "thumb", "defines": ["LAMPS=\"4\""], "include": ["a"] }`,
		"{\n    \"include\": []\n}\n":   "{\n    \"arch\": \"armv7-m\",\n    \"startMode\": \"thumb\",\n    \"defines\": [\"LAMPS=\\\"4\\\"\"],\n    \"include\": []\n}\n",
		"\n{\r\n\t\"include\": []\r\n}": "\n{\r\n\t\"arch\": \"armv7-m\",\r\n\t\"startMode\": \"thumb\",\r\n\t\"defines\": [\"LAMPS=\\\"4\\\"\"],\r\n\t\"include\": []\r\n}",
		"[]":                            "", "null": "", "": "", "{": "", `{"startMode": ""}`: "",
	} {
		at, written, ok := Insert(text, members)
		if ok != (want != "") {
			t.Errorf("%q: %v", text, ok)
			continue
		}
		if !ok {
			continue
		}
		got := text[:at] + written + text[at:]
		if got != want {
			t.Errorf("%q becomes\n%s\nwant\n%s", text, got, want)
		}
		if !json.Valid([]byte(got)) {
			t.Errorf("%q is no JSON", got)
		}
	}
}
