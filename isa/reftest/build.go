package reftest

import (
	"os"
	"os/exec"
	"testing"
)

// Build builds the program as the README has it: root is the module's folder, and program the
// file to make.
func Build(t testing.TB, root, program string) {
	t.Helper()
	build := exec.Command("go", "build", "-o", program, "./cmd/lsp")
	build.Dir, build.Env = root, append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
}
