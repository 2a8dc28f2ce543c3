package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"narrowgauge/analysis"
	"narrowgauge/isa/reftest"
)

// TestBoundedOutput holds that what is printed does not multiply: not with findings in
// one line, nor with those of a file or of many files, nor with the length of lines,
// and that all of it can be had.
func TestBoundedOutput(t *testing.T) {
	const head = "\t.syntax unified\n\t.thumb\n"
	wide := strings.Repeat("é", 40_000)
	var many, manyFiles []string
	for i := range 3000 {
		many = append(many, fmt.Sprintf("\tswitch%d r0", i)) // no instruction, and nothing near
	}
	for range 12 {
		manyFiles = append(manyFiles, head+strings.Join(many[:190], "\n")+"\n")
	}
	type bounded struct {
		name  string
		files []string
		bytes int // of output at most
		all   int // findings
		more  string
	}
	for _, tt := range reftest.Sample([]bounded{
		{"findings in many lines", []string{head + strings.Join(many, "\n") + "\n"}, 60_000, 3000, "points00.s: 2800 findings more"},
		{"findings in one line", []string{head + strings.Join(many, ";") + "\n"}, 12_000, 3000, "points00.s: 2990 findings more"},
		{"a long comment after", []string{head + "\tmovs r0, #300 @ " + wide + "\n"}, 2_000, 1, ""},
		{"a long comment in front", []string{head + "\t/* " + wide + " */ movs r0, #300\n"}, 2_000, 1, ""},
		{"many files", manyFiles, 400_000, 12 * 190, "points11.s: 190 findings more"},
		{"a long operand", []string{head + "\tmovs r0, #" + strings.Repeat("1+", 30_000) + "1\n"}, 4_000, 1, ""},
		{"a long name", []string{head + "\tmovs r0, #300\n\tb " + strings.Repeat("x", 50_000) + "y z\n"}, 4_000, 2, ""},
	}, 7) {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			for i, text := range tt.files {
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("points%02d.s", i)), []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			out := output(t, dir, "check", ".")
			if len(out) > tt.bytes || !utf8.ValidString(out) {
				t.Errorf("%d bytes, more than %d\n%.2000s", len(out), tt.bytes, out)
			}
			if tt.more == "" == strings.Contains(out, "more") || !strings.Contains(out, tt.more) {
				t.Errorf("no word of %q\n%s", tt.more, out[max(0, len(out)-1000):])
			}
			if sum := fmt.Sprintf("%d error", tt.all); !strings.Contains(out, sum) {
				t.Errorf("the sum is not %q\n%s", sum, out[max(0, len(out)-1000):])
			}
			if got := strings.Count(output(t, dir, "check", "--all", "."), " error: "); got != tt.all {
				t.Errorf("--all prints %d findings of %d", got, tt.all)
			}
			var list []jsonFinding
			if err := json.Unmarshal([]byte(output(t, dir, "check", "--format", "json", ".")), &list); err != nil || len(list) != tt.all {
				t.Errorf("JSON has %d findings of %d, %v", len(list), tt.all, err)
			}
		})
	}
}

// TestManyBounded holds that the sums of files that were cut are bounded as well.
func TestManyBounded(t *testing.T) {
	var all []found
	for i := range 5000 {
		all = append(all, found{diag: analysis.Diagnostic{Location: analysis.Location{Path: fmt.Sprintf("points%d.s", i)}}})
	}
	var b strings.Builder
	if err := printAll(&b, listing{}, all); err != nil {
		t.Fatal(err)
	}
	if out := b.String(); len(out) > 2000 || !strings.Contains(out, "4980 findings more in 4980 other files") {
		t.Error(out)
	}
}

// TestWindow holds that an excerpt of a long line shows the place, marked by as many
// signs as there are columns of it.
func TestWindow(t *testing.T) {
	for _, unit := range []string{"x", "é", "世", "\t", "a\u0301"} {
		for _, at := range []int{0, 1, 39, 40, 41, 100, 500, 999} {
			text := strings.Repeat(unit, at) + "HERE" + strings.Repeat(unit, 1000-at)
			p, f := fakeProgram(text)
			r := &renderer{p: p}
			var b strings.Builder
			r.excerpt(&b, spanOf(text, "HERE"), f, func(s string) string { return s })
			lines := strings.Split(b.String(), "\n")
			if len(b.String()) > 3000 || !utf8.ValidString(b.String()) || len(lines) != 3 {
				t.Fatalf("%q at %d: %q", unit, at, b.String())
			}
			_, before := expand(lines[0][:strings.Index(lines[0], "HERE")], 0)
			if want := strings.Repeat(" ", before-8) + "^~~~"; lines[1] != "      | "+want {
				t.Errorf("%q at %d:\n%s\n%s", unit, at, lines[0], lines[1])
			}
		}
	}
}

// TestFirstLook holds that the README's first command prints one screen: all three slips,
// each with a rewrite.
func TestFirstLook(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	const first = "go run ./cmd/lsp check editors/first.s "
	if i := strings.Index(string(readme), "go run ./cmd/lsp "); i < 0 || !strings.HasPrefix(string(readme)[i:], first) {
		t.Fatalf("the first command of the README is not %q", first)
	}
	out := output(t, "../..", "check", "editors/first.s")
	if lines := strings.Count(out, "\n"); lines > 24 || strings.Count(out, ": error: ") != 3 || strings.Count(out, "  rewrite: ") != 3 {
		t.Errorf("%d lines:\n%s", lines, out)
	}
	if lines := strings.Count(output(t, "../..", "check", "--summary", "editors/demo"), "\n"); lines > 56 {
		t.Errorf("the summary of the demo has %d lines", lines)
	}
}
