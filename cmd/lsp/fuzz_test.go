package main

import (
	"os"
	"path/filepath"
	"testing"

	"narrowgauge/analysis"
)

// FuzzBaseline checks that any bytes are read as a baseline or refused, and that what has been
// read knows no more findings than it says.
func FuzzBaseline(f *testing.F) {
	f.Add([]byte(`{"about":"","findings":[{"file":"a.s","code":"align","line":"x","mark":"0123456789abcdef","count":2}]}`))
	f.Add([]byte(`{"findings":[{"count":-5},{"count":9223372036854775807},{"count":9223372036854775807}]}`))
	f.Add([]byte("[]"))
	f.Add([]byte("{\"findings\":null}\x00"))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(dir, "known.json")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		b, err := readBaseline(path)
		if err != nil {
			return
		}
		for k, n := range b.count {
			seen := met{}
			for range 3 {
				b.state(seen, filepath.Join(dir, k.file), analysis.Diagnostic{Code: k.code}, k.mark)
			}
			if n < 1 || seen[k] > n {
				t.Fatalf("%+v: %d known, %d met", k, n, seen[k])
			}
		}
		for _, line := range b.gone(met{}, b.files) {
			if clean(line) != line {
				t.Fatalf("%q has control characters", line)
			}
		}
	})
}
