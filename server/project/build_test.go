package project

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestBuildFiles holds what build files say about the target of sources near them. The
// projects are invented.
func TestBuildFiles(t *testing.T) {
	for _, c := range []struct {
		name   string
		files  map[string]string
		source string   // box.s if empty
		want   []string // cpu or arch, fpu, defines, and where
	}{
		{"make", map[string]string{"Makefile": "CFLAGS = -O2 -mcpu=cortex-m0 -mthumb\n"}, "", []string{"cortex-m0 [__thumb__=1] Makefile:1"}},
		{"make, core and unit in lines of their own", map[string]string{"Makefile": "CPU = -mcpu=cortex-m4\nFPU = -mfpu=fpv4-sp-d16\nABI = -mfloat-abi=hard\n"}, "",
			[]string{"cortex-m4 fpv4-sp-d16 [__ARM_PCS_VFP=1] Makefile:1"}},
		{"make, with a variable", map[string]string{"GNUmakefile": "MCU ?= cortex-m3\nASFLAGS += -mcpu=$(MCU)\n"}, "", []string{"cortex-m3 GNUmakefile:2"}},
		{"make, variables from another file", map[string]string{"makefile": "include config.mk\nCFLAGS=-march=$(ARCH_OF_BOX) $(FP)\n", "config.mk": "export ARCH_OF_BOX := armv7e-m\nFP = -mfpu=fpv5-d16\n"}, "",
			[]string{"armv7e-m fpv5-d16 makefile:2"}},
		{"make, one of two", map[string]string{"Makefile": "ifdef OLD\nCPU=-mcpu=cortex-m0\nelse\nCPU=-mcpu=cortex-m4 -mfpu=fpv4-sp-d16\nendif\n"}, "", []string{"cortex-m0 Makefile:2", "cortex-m4 fpv4-sp-d16 Makefile:4"}},
		{"make, a comment", map[string]string{"Makefile": "# CPU = -mcpu=cortex-m0\nCPU = -mcpu=cortex-m3 # not -mcpu=cortex-m4\n"}, "", []string{"cortex-m3 Makefile:2"}},
		{"make, for another machine", map[string]string{"Makefile": "CFLAGS = -march=rv32imac -mabi=ilp32\nHOST = -march=native -mtune=cortex-m4\n"}, "", nil},
		{"a longer word", map[string]string{"Makefile": "A = --with-mcpu=cortex-m0 x-mcpu=cortex-m3\n"}, "", nil},
		{"mk in a folder above", map[string]string{"rules.mk": "ARCH_FLAGS = -mthumb -march=armv6s-m -msoft-float\n", "src/points/box.s": ""}, "src/points/box.s",
			[]string{"armv6s-m [__thumb__=1 __SOFTFP__=1] ../../rules.mk:1"}},
		{"the nearest folder counts", map[string]string{"Makefile": "X = -mcpu=cortex-m0\n", "boot/Makefile": "X = -mcpu=cortex-a9\n"}, "boot/box.s", []string{"cortex-a9 Makefile:1"}},
		{"a unit in one folder, the core above", map[string]string{"Makefile": "X = -mcpu=cortex-m4\n", "src/Makefile": "X = -mfpu=fpv4-sp-d16\n"}, "src/box.s", []string{"cortex-m4 fpv4-sp-d16 ../Makefile:1"}},
		{"CMake", map[string]string{"CMakeLists.txt": "add_compile_options(-mcpu=cortex-m33 -mfpu=fpv5-sp-d16)\n"}, "", []string{"cortex-m33 fpv5-sp-d16 CMakeLists.txt:1"}},
		{"CMake, a variable", map[string]string{"CMakeLists.txt": "set(CORE \"cortex-m7\")\ntarget_compile_options(box PRIVATE \"-mcpu=${CORE}\" -mfloat-abi=hard)\n"}, "", []string{"cortex-m7 fpv5-d16 [__ARM_PCS_VFP=1] CMakeLists.txt:1"}},
		{"CMake, the file for the toolchain", map[string]string{"cmake/arm.cmake": "set(CMAKE_SYSTEM_PROCESSOR cortex-m0plus)\n"}, "", []string{"cortex-m0plus cmake/arm.cmake:1"}},
		{"CMake, that of a machine without cores", map[string]string{"cmake/host.cmake": "set(CMAKE_SYSTEM_PROCESSOR x86_64)\n"}, "", nil},
		{"Meson", map[string]string{"meson.build": "add_project_arguments(['-mcpu=cortex-m3', '-mthumb'], language: 'c')\n"}, "", []string{"cortex-m3 [__thumb__=1] meson.build:1"}},
		{"Meson, for another machine", map[string]string{"arm-cross.txt": "[host_machine]\ncpu_family = 'arm'\ncpu = 'cortex-m23'\n"}, "", []string{"cortex-m23 arm-cross.txt:3"}},
		{"JSON", map[string]string{"box.json": "{\n \"flags\": [\"-mcpu=cortex-m4\", \"-mfpu=fpv4-sp-d16\"]\n}\n"}, "", []string{"cortex-m4 fpv4-sp-d16 box.json:2"}},
		{"JSON, a key", map[string]string{"target.json": "{\n \"cpu\": \"cortex-m3\"\n}\n"}, "", []string{"cortex-m3 target.json:2"}},
		{"INI", map[string]string{"project.ini": "[box]\nbuild_flags = -mthumb -mcpu=cortex-m4\n; -mcpu=cortex-m0\n"}, "", []string{"cortex-m4 [__thumb__=1] project.ini:2"}},
		{"a script of the linker", map[string]string{"box.ld": "/* OUTPUT_ARCH(armv7-m) */\nOUTPUT_FORMAT(\"elf32-littlearm\")\nOUTPUT_ARCH(armv4t)\n"}, "", []string{"armv4t box.ld:3"}},
		{"one that says only the family", map[string]string{"box.lds": "OUTPUT_ARCH(arm)\n"}, "", nil},
		{"a shell script", map[string]string{"build.sh": "arm-none-eabi-as -mcpu=arm7tdmi box.s\n"}, "", []string{"arm7tdmi build.sh:1"}},
		{"for the assembler", map[string]string{"Makefile": "AS = gcc -mcpu=cortex-m3 -Wa,-mimplicit-it=thumb\n"}, "", []string{"cortex-m3 it=thumb Makefile:1"}},
		{"core and architecture in one line", map[string]string{"Makefile": "C = -march=armv7-m -mcpu=cortex-m3\n"}, "", []string{"armv7-m Makefile:1"}},
		{"a name in parts", map[string]string{"Makefile": "CORE = m4\nMCU = -mcpu=cortex-$(CORE)\n"}, "", []string{"cortex-m4 Makefile:2"}},
		{"variables in parts", map[string]string{"Makefile": "N := 33\nCORE := cortex-m${N}\nMCU = -mcpu=$(CORE)\n"}, "", []string{"cortex-m33 Makefile:3"}},
		{"a part that is not known", map[string]string{"Makefile": "MCU = -mcpu=cortex-$(CORE)\n"}, "", nil},
		{"Meson, in a folder of its own", map[string]string{"cross/arm.ini": "[properties]\nc_args = ['-mcpu=cortex-m4', '-mthumb']\n"}, "", []string{"cortex-m4 [__thumb__=1] cross/arm.ini:2"}},
		{"another compiler's option", map[string]string{"Makefile": "AFLAGS = --cpu=Cortex-M3 --apcs=interwork\n"}, "", []string{"cortex-m3 Makefile:1"}},
		{"with a blank", map[string]string{"build.sh": "armasm --cpu cortex-m0 box.s\n"}, "", []string{"cortex-m0 build.sh:1"}},
		{"of a machine that is no core", map[string]string{"Makefile": "RUN = docker --cpu 2\nQ = --cpu=max\n"}, "", nil},
		{"LLVM's target", map[string]string{"Makefile": "CC = clang --target=thumbv7em-none-eabi\n"}, "", []string{"armv7e-m Makefile:1"}},
		{"LLVM's target of another machine", map[string]string{"Makefile": "CC = clang -target x86_64-linux-gnu\nX = --target=aarch64-none-elf\n"}, "", nil},
		{"LLVM's target by a key", map[string]string{"box.toml": "[build]\ntarget = \"thumbv6m-none-eabi\"\n"}, "", []string{"armv6-m box.toml:2"}},
		{"INI, a key", map[string]string{"box.ini": "[platform]\nmcu = cortex-m0plus\n"}, "", []string{"cortex-m0plus box.ini:2"}},
		{"CMake, presets", map[string]string{"CMakePresets.json": "{\"cacheVariables\": {\"CMAKE_C_FLAGS\": \"-mcpu=cortex-m33 -mthumb\"}}\n"}, "", []string{"cortex-m33 [__thumb__=1] CMakePresets.json:1"}},
		{"not a build file", map[string]string{"notes.txt": "-mcpu=cortex-m0\n", "box.c": "-mcpu=cortex-m0", ".Makefile": "-mcpu=cortex-m0"}, "", nil},
		{"a variable of itself", map[string]string{"Makefile": "A = $(B)\nB = $(A)\nC = -mcpu=$(A)\n"}, "", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := follow(t.TempDir())
			for name, text := range c.files {
				write(t, filepath.Join(dir, name), text)
			}
			if c.source == "" {
				c.source = "box.s"
			}
			var f BuildFiles
			for range 2 { // read, and kept
				var got []string
				for _, e := range f.Find(filepath.Dir(filepath.Join(dir, c.source)), NewBounds(dir)) {
					s := e.Settings
					text := s.Arch + s.CPU
					if s.FPU != "" {
						text += " " + s.FPU
					}
					if s.ImplicitIT != "" {
						text += " it=" + s.ImplicitIT
					}
					if s.Defines != nil {
						text += fmt.Sprint(" ", s.Defines)
					}
					got = append(got, fmt.Sprintf("%s %s:%d", text, e.File, e.Line+1))
				}
				if strings.Join(got, "\n") != strings.Join(c.want, "\n") {
					t.Errorf("got %q, want %q", got, c.want)
				}
			}
		})
	}
}

// TestBuildFilesWithin holds that build files are read only within the bounds and up to
// their limits, and anew when they change.
func TestBuildFilesWithin(t *testing.T) {
	dir := follow(t.TempDir())
	at := func(name string) string { return filepath.Join(dir, name) }
	const m0 = "-mcpu=cortex-m0\n"
	write(t, at("Makefile"), m0)
	write(t, at("out/rules.mk"), m0)
	write(t, at("box/src/a.s"), "")
	link(t, "../../out/rules.mk", at("box/src/rules.mk"))
	var f BuildFiles
	if got := f.Find(at("box/src"), NewBounds(at("box"))); got != nil {
		t.Errorf("from outside: %+v", got)
	}
	if got := f.Find(at("box/src"), nil); got != nil {
		t.Errorf("without bounds: %+v", got)
	}
	if got := f.Find(at("box/src"), NewBounds(dir)); len(got) != 1 || got[0].File != "rules.mk" {
		t.Errorf("within: %+v", got)
	}
	write(t, at("big/Makefile"), strings.Repeat("#\n", maxBuildFile/2)+m0)
	write(t, at("big/line.mk"), strings.Repeat(" ", maxBuildLine)+m0)
	for i := range maxBuildFiles {
		write(t, at(fmt.Sprintf("big/a%03d.mk", i)), "")
	}
	write(t, at("big/z.mk"), m0)
	if got := f.Find(at("big"), NewBounds(at("big"))); got != nil {
		t.Errorf("beyond the limits: %+v", got)
	}
	many := ""
	for i := range 12 {
		many += fmt.Sprintf("-march=armv8.%d-a\n", i%7)
	}
	write(t, at("many/Makefile"), m0+"-mcpu=cortex-m3\n"+many)
	if got := f.Find(at("many"), NewBounds(at("many"))); len(got) != maxEvidence {
		t.Errorf("%d targets, at most %d are", len(got), maxEvidence)
	}
	write(t, at("Makefile"), "-mcpu=cortex-m33\n")
	if err := os.Remove(at("box/src/rules.mk")); err != nil {
		t.Fatal(err)
	}
	if got := f.Find(at("box/src"), NewBounds(dir)); len(got) != 1 || got[0].Settings.CPU != "cortex-m33" {
		t.Errorf("after a change: %+v", got)
	}
}
