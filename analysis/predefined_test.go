package analysis

import (
	"os/exec"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// TestPredefined compares the macros for a target with those of a compiler.
func TestPredefined(t *testing.T) {
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-gcc")
	ours := []string{"__ARM_", "__arm", "__thumb", "__THUMB", "__VFP_FP__", "__SOFTFP__", "__APCS_32__", "__ELF__", "__ARMEL__", "__CHAR_BIT__", "__USER_LABEL_PREFIX__", "__BYTE_ORDER__"}
	n := 0
	for _, x := range reftest.Sample([]struct{ arch, mode, fpu string }{
		{"armv4", "arm", ""}, {"armv4t", "arm", ""}, {"armv4t", "thumb", ""}, {"armv5t", "arm", ""}, {"armv5t", "thumb", ""},
		{"armv5te", "arm", ""}, {"armv5te", "thumb", ""}, {"armv6", "arm", ""}, {"armv6", "thumb", ""}, {"armv6k", "arm", ""},
		{"armv6t2", "arm", ""}, {"armv6t2", "thumb", ""}, {"armv6-m", "thumb", ""}, {"armv7-m", "thumb", ""}, {"armv7e-m", "thumb", ""},
		{"armv7-a", "arm", ""}, {"armv7-a", "thumb", ""}, {"armv7-r", "arm", ""}, {"armv7-r", "thumb", ""}, {"armv7ve", "arm", ""},
		{"armv8-a", "arm", ""}, {"armv8-a", "thumb", ""}, {"armv8-a+crc", "arm", ""}, {"armv8-r", "arm", ""},
		{"armv8-m.base", "thumb", ""}, {"armv8-m.main", "thumb", ""}, {"armv8-m.main+dsp", "thumb", ""}, {"armv8.1-m.main", "thumb", ""},
		{"armv5te", "arm", "vfp"}, {"armv7-a", "arm", "vfpv3-d16"}, {"armv7-a", "thumb", "neon"}, {"armv7-a", "arm", "neon-vfpv4"},
		{"armv7e-m", "thumb", "fpv4-sp-d16"}, {"armv7e-m", "thumb", "fpv5-d16"}, {"armv8-a", "arm", "neon-fp-armv8"}, {"armv8-m.main", "thumb", "fpv5-sp-d16"},
	}, 7) {
		args := []string{"-march=" + x.arch, "-m" + x.mode, "-mfloat-abi=soft", "-x", "assembler-with-cpp", "-E", "-dM", "/dev/null"}
		if x.fpu != "" {
			args = append(args, "-mfpu="+x.fpu, "-mfloat-abi=softfp")
		}
		text, err := exec.Command("arm-none-eabi-gcc", args...).Output()
		if err != nil {
			t.Fatalf("%v: %v", x, err)
		}
		want := map[string]string{}
		for _, l := range strings.Split(string(text), "\n") {
			f := strings.SplitN(strings.TrimPrefix(l, "#define "), " ", 2)
			for _, p := range ours {
				if strings.HasPrefix(f[0], p) && len(f) == 2 {
					want[f[0]] = f[1]
				}
			}
		}
		e, err := (&Settings{Arch: x.arch, StartMode: x.mode, FPU: x.fpu}).env()
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]string{}
		for _, d := range e.Predefined() {
			name, text, _ := strings.Cut(d, "=")
			got[name] = text
			if w, ok := want[name]; !ok && !strings.HasPrefix(name, "__ORDER") || ok && w != text {
				t.Errorf("%v: %s is %q, want %q", x, name, text, w)
			}
			n++
		}
		for name := range want {
			if _, ok := got[name]; !ok {
				t.Errorf("%v: no %s", x, name)
			}
		}
	}
	proof.Counted("predefined macros: %d predefined macros compared", n)
}
