// Package demo_test builds the demo firmware with the reference assembler and
// linker, so that the demo stays a program that works.
package demo_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestBuild assembles every file and links them; a warning fails it, too.
func TestBuild(t *testing.T) {
	for _, tool := range []string{"arm-none-eabi-as", "arm-none-eabi-ld"} {
		if _, err := exec.LookPath(tool); err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatal(err)
			}
			t.Skip(err)
		}
	}
	dir := t.TempDir()
	sources, err := filepath.Glob("*.s")
	if err != nil || len(sources) == 0 {
		t.Fatalf("no sources: %v", err)
	}
	link := []string{"--fatal-warnings", "-T", "signalbox.ld", "-o", filepath.Join(dir, "signalbox.elf")}
	for _, source := range sources {
		object := filepath.Join(dir, strings.TrimSuffix(source, ".s")+".o")
		if out, err := exec.Command("arm-none-eabi-as", "--fatal-warnings", "-march=armv4t", "-o", object, source).CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", source, err, out)
		}
		link = append(link, object)
	}
	if t.Failed() {
		return
	}
	if out, err := exec.Command("arm-none-eabi-ld", link...).CombinedOutput(); err != nil {
		t.Errorf("link: %v\n%s", err, out)
	}
}

// TestNoFindings runs the command line over the demo, which is correct and
// says so: a finding here is a false alarm.
func TestNoFindings(t *testing.T) {
	binary := filepath.Join(t.TempDir(), "narrowgauge")
	build := exec.Command("go", "build", "-o", binary, "./cmd/lsp")
	build.Dir = filepath.Join("..", "..")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	sources, err := filepath.Glob("*.s")
	if err != nil || len(sources) == 0 {
		t.Fatalf("no sources: %v", err)
	}
	out, err := exec.Command(binary, append([]string{"check", "--format", "json"}, sources...)...).CombinedOutput()
	if err != nil || strings.TrimSpace(string(out)) != "[]" {
		t.Errorf("check: %v\n%s", err, out)
	}
}
