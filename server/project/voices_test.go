package project

import (
	"os"
	"path/filepath"
	"testing"

	"narrowgauge/analysis"
)

// TestVoicesBySettings holds that what a source says is kept for the settings with which it
// was asked, and not told to others.
func TestVoicesBySettings(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"box.S": "\tnop\n", "lamps.S": "#ifdef OLD\n\t.cpu cortex-m0\n#else\n\t.cpu cortex-m4\n#endif\n\tnop\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	search := &Search{Disk: &Disk{}, Bounds: NewBounds(dir)}
	var v Voices
	ask := func(set *analysis.Settings) *analysis.Voice {
		list := v.Beside(t.Context(), filepath.Join(dir, "box.S"), set, search)
		if len(list) != 1 {
			t.Fatalf("%d voices", len(list))
		}
		return list[0]
	}
	plain, old := ask(&analysis.Settings{}), ask(&analysis.Settings{Defines: []string{"OLD"}})
	if plain == old {
		t.Error("with other settings a source says the same")
	}
	if ask(&analysis.Settings{}) != plain || ask(&analysis.Settings{Defines: []string{"OLD"}}) != old {
		t.Error("what a source says is not kept")
	}
}
