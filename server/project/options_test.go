package project

import (
	"path/filepath"
	"strings"
	"testing"
)

// TestBuildOptions holds what build files say of macros, symbols and the preprocessor for a
// source near them: what is for it outside of conditions, with a value that stands there. The
// projects are invented.
func TestBuildOptions(t *testing.T) {
	for _, c := range []struct {
		name   string
		files  map[string]string
		source string // box.S if empty
		want   string // defines, then what else there is by its option
	}{
		{"make", map[string]string{"Makefile": "CFLAGS = -O2 -DTRACKS=4 -D BELLS\nASFLAGS += -DLAMP=0x40\n"}, "", "TRACKS=4 BELLS LAMP=0x40"},
		{"make, quotes", map[string]string{"Makefile": "CPPFLAGS = '-DTRACKS=4' \"-DBELLS\" -D\"LAMP=2\"\n"}, "", "TRACKS=4 BELLS LAMP=2"},
		{"make, text that is not plain", map[string]string{"Makefile": "CFLAGS = -DNAME=\\\"box\\\" -DVERSION='\"1.2\"' -DTIME=$(shell date) -DTRACKS=4\n"}, "", "TRACKS=4"},
		{"make, a variable", map[string]string{"Makefile": "TRACKS ?= 6\nCFLAGS = -DTRACKS=$(TRACKS) -DBELLS=$(BELLS)\n"}, "", "TRACKS=6"},
		{"make, a variable with two values", map[string]string{"Makefile": "TRACKS = 6\nifdef LARGE\nTRACKS = 12\nendif\nCFLAGS = -DTRACKS=$(TRACKS) -DBELLS\n"}, "", "BELLS"},
		{"make, a condition", map[string]string{"Makefile": "CFLAGS = -DBELLS\nifeq ($(BOX),large)\nCFLAGS += -DLARGE\nelse\nCFLAGS += -DSMALL\nendif\nCFLAGS += -DLAMPS\n"}, "", "BELLS LAMPS"},
		{"make, a condition in a line", map[string]string{"Makefile": "CFLAGS = $(if $(LARGE),-DLARGE) -DBELLS\n"}, "", "BELLS"},
		{"make, lines that go on", map[string]string{"Makefile": "CFLAGS = -Os \\\n  -DTRACKS=4 \\\n  -DBELLS\n"}, "", "TRACKS=4 BELLS"},
		{"make, its own include", map[string]string{"Makefile": "-include config.h\nCFLAGS = -DBELLS\n", "config.h": ""}, "", "BELLS"},
		{"make, two values", map[string]string{"Makefile": "A = -DTRACKS=4\nB = -DTRACKS=6\nCFLAGS = $(A)\nASFLAGS = $(B) -DBELLS\n"}, "", "BELLS"},
		{"make, taken back", map[string]string{"Makefile": "CFLAGS = -DTRACKS=4 -DBELLS\nASFLAGS = $(CFLAGS) -UTRACKS\n"}, "", "BELLS"},
		{"make, a variable that a rule uses", map[string]string{"Makefile": "DEFS = -DTRACKS=4\nOTHER = -DLARGE\n%.o: %.S\n\t$(CC) $(DEFS) -c $< -o $@\n"}, "", "TRACKS=4"},
		{"make, a variable in another one", map[string]string{"Makefile": "include defs.mk\nCFLAGS = -O1 $(DEFS)\n", "defs.mk": "DEFS := -DTRACKS=4\n"}, "", "TRACKS=4"},
		{"make, a rule for another source", map[string]string{"Makefile": "boot.o: boot.S\n\t$(CC) -DBOOT -c boot.S\nbox.o: box.S\n\t$(CC) -DTRACKS=4 -c box.S\n"}, "", "TRACKS=4"},
		{"make, a variable of one file", map[string]string{"Makefile": "boot.o: CFLAGS += -DBOOT\nbox.o: CFLAGS += -DTRACKS=4\nlarge: CFLAGS += -DLARGE\n"}, "", "TRACKS=4"},
		{"make, the flags of one object", map[string]string{"Kbuild": "AFLAGS_box.o := -DTRACKS=4\nAFLAGS_boot.o := -DBOOT\nasflags-y += -DBELLS\nasflags-$(CONFIG_LARGE) += -DLARGE\n"}, "", "TRACKS=4 BELLS"},
		{"make, for the machine that builds", map[string]string{"Makefile": "HOSTCFLAGS = -DHOST\nCXXFLAGS = -DCXX\nCFLAGS_DEBUG = -DDEBUG\nCFLAGS = -DBELLS\ntables.h: tables.c\n\tgcc -DTABLES tables.c -o tables\n"}, "", "BELLS"},
		{"make, a comment", map[string]string{"Makefile": "# CFLAGS = -DOLD\nCFLAGS = -DBELLS # -DOLD\n"}, "", "BELLS"},
		{"make, symbols of the assembler", map[string]string{"Makefile": "ASFLAGS = -Wa,--defsym,TRACKS=4 -Wa,-defsym,BELLS=2\nLDFLAGS = -Wl,--defsym=STACK=0x400 --defsym=HEAP=4\n"}, "", "--defsym=TRACKS=4 --defsym=BELLS=2"},
		{"make, a direct call", map[string]string{"Makefile": "box.o: box.s\n\tarm-none-eabi-as --defsym TRACKS=4 box.s -o $@\nbox.elf: box.o\n\tarm-none-eabi-ld --defsym=STACK=64 $^\n"}, "box.s", "--defsym=TRACKS=4"},
		{"make, the language", map[string]string{"Makefile": "ASFLAGS = -x assembler-with-cpp -DBELLS\n"}, "box.s", "BELLS -x"},
		{"make, a file in front", map[string]string{"Makefile": "TOP = .\nCPPFLAGS = -include $(TOP)/inc/config.h -include missing.h\n", "inc/config.h": ""}, "", "-include=inc/config.h"},
		{"make, a file in front of all of a kernel's", map[string]string{"Makefile": "KBUILD_AFLAGS := -D__ASSEMBLY__\nBUILD_AFLAGS := -DTOOL\n", "arch/box/Makefile": "KBUILD_AFLAGS +=-DBELLS -include $(srctree)/arch/box/include/asm/words.h\n", "arch/box/include/asm/words.h": ""}, "arch/box/lib/box.S", "BELLS __ASSEMBLY__ -include=arch/box/include/asm/words.h"},
		{"make, the nearer folder", map[string]string{"Makefile": "CFLAGS = -DTRACKS=4 -DBELLS\n", "src/Makefile": "CFLAGS = -DTRACKS=6\n"}, "src/box.S", "TRACKS=6 BELLS"},
		{"make, tools of the build", map[string]string{"tools/Makefile": "CFLAGS = -DTOOL\n", "mk/rules.mk": "CFLAGS = -DBELLS\n"}, "", "BELLS"},
		{"CMake", map[string]string{"CMakeLists.txt": "add_compile_definitions(TRACKS=4 BELLS) # OLD\nadd_definitions(-DLAMPS=2)\n"}, "", "TRACKS=4 BELLS LAMPS=2"},
		{"CMake, a condition", map[string]string{"CMakeLists.txt": "if(LARGE)\n  add_compile_definitions(TRACKS=12)\nelse()\n  add_definitions(-DSMALL)\nendif()\nadd_compile_options(-DBELLS)\n"}, "", "BELLS"},
		{"CMake, one target", map[string]string{"CMakeLists.txt": "add_executable(box\n  main.c\n  box.S)\ntarget_compile_definitions(box PRIVATE\n  TRACKS=4\n  NAME=\"box\")\n"}, "", "TRACKS=4"},
		{"CMake, another target", map[string]string{"CMakeLists.txt": "add_executable(boot boot.S)\nadd_executable(app box.S)\ntarget_compile_definitions(boot PRIVATE BOOT)\ntarget_compile_definitions(app PRIVATE TRACKS=4)\n"}, "", "TRACKS=4"},
		{"CMake, targets with what is not written there", map[string]string{"CMakeLists.txt": "add_executable(a ${A})\nadd_executable(b ${B})\ntarget_compile_definitions(a PRIVATE ONE BELLS)\ntarget_compile_definitions(b PRIVATE BELLS)\n"}, "", "BELLS"},
		{"CMake, what its generator decides", map[string]string{"CMakeLists.txt": "add_compile_definitions($<$<CONFIG:Debug>:TRACE>)\nadd_compile_definitions(BELLS)\n"}, "", "BELLS"},
		{"CMake, flags of the language", map[string]string{"CMakeLists.txt": "set(TRACKS 4)\nset(CMAKE_ASM_FLAGS \"-x assembler-with-cpp -DTRACKS=${TRACKS}\")\nset(CMAKE_C_FLAGS_DEBUG \"-DDEBUG\")\n"}, "box.s", "TRACKS=4 -x"},
		{"CMake, one source", map[string]string{"CMakeLists.txt": "set_source_files_properties(box.S PROPERTIES COMPILE_DEFINITIONS \"TRACKS=4;BELLS\")\nset_source_files_properties(boot.S PROPERTIES COMPILE_FLAGS -DBOOT)\n"}, "", "TRACKS=4 BELLS"},
		{"CMake, one source with several properties", map[string]string{"CMakeLists.txt": "set_source_files_properties(box.S PROPERTIES COMPILE_DEFINITIONS TRACKS=4 COMPILE_FLAGS -DBELLS)\nset_source_files_properties(box.S PROPERTIES COMPILE_DEFINITIONS NAME=\"box\")\n"}, "", "TRACKS=4 BELLS"},
		{"CMake, sources that are not written there", map[string]string{"CMakeLists.txt": "set_source_files_properties(${BOOT_SOURCES} PROPERTIES COMPILE_DEFINITIONS BOOT COMPILE_FLAGS -DROM)\nadd_definitions(-DBELLS)\n"}, "", "BELLS"},
		{"CMake, the file for the toolchain", map[string]string{"cmake/arm.cmake": "add_compile_options(-mcpu=cortex-m0 -DTRACKS=4)\n"}, "", "TRACKS=4"},
		{"Meson", map[string]string{"meson.build": "add_project_arguments(['-DTRACKS=4', '-DBELLS'], language: ['c'])\n"}, "", "TRACKS=4 BELLS"},
		{"Meson, a condition", map[string]string{"meson.build": "if get_option('large')\n  add_project_arguments('-DLARGE', language: 'c')\nendif\nadd_project_arguments('-DBELLS', language: 'c')\n"}, "", "BELLS"},
		{"Meson, targets", map[string]string{"meson.build": "executable('boot', 'boot.S', c_args: ['-DBOOT'])\nexecutable('app', ['main.c', 'box.S'], c_args: ['-DTRACKS=4'])\n"}, "", "TRACKS=4"},
		{"JSON", map[string]string{"box.json": "{\"flags\": [\"-mcpu=cortex-m4\", \"-DTRACKS=4\"], \"other\": 1}\n"}, "", "TRACKS=4"},
		{"JSON, a list of macros", map[string]string{"box.json": "{\"target\": {\"defines\": [\"TRACKS=4\", \"BELLS\", \"NAME=\\\"x\\\"\"]}}\n"}, "", "TRACKS=4 BELLS"},
		{"JSON, two configurations", map[string]string{"box.json": "{\"large\": {\"defines\": [\"TRACKS=12\", \"BELLS\"]}, \"small\": {\"defines\": [\"BELLS\", \"TRACKS=4\"]}}\n"}, "", "BELLS"},
		{"INI", map[string]string{"project.ini": "[box]\nbuild_flags = -mcpu=cortex-m4 -DTRACKS=4\n  -DBELLS\n; -DOLD\n"}, "", "TRACKS=4 BELLS"},
		{"INI, two sections", map[string]string{"project.ini": "[large]\nflags = -DTRACKS=12 -DBELLS\n[small]\nflags = -DTRACKS=4 -DBELLS\n"}, "", "BELLS"},
		{"a shell script", map[string]string{"build.sh": "TRACKS=4\nFLAGS=\"-DTRACKS=$TRACKS -DBELLS\"\nif [ -n \"$1\" ]; then\n  FLAGS=\"$FLAGS -DLARGE\"\nfi\narm-none-eabi-gcc $FLAGS -c box.S\narm-none-eabi-gcc -DBOOT -c boot.S\n[ -n \"$2\" ] && arm-none-eabi-gcc -DTWO -c box.S\n"}, "", "TRACKS=4 BELLS"},
		{"a shell script, a direct call", map[string]string{"build.sh": "arm-none-eabi-as -mcpu=arm7tdmi --defsym TRACKS=4 -o box.o box.s\n"}, "box.s", "--defsym=TRACKS=4"},
		{"a script in another language", map[string]string{"SConstruct": "env = Environment(CCFLAGS=['-DTRACKS=4',\n    '-DBELLS'])\nif large:\n    env.Append(CCFLAGS='-DLARGE')\nenv.Append(ASFLAGS='-DLAMPS')\n"}, "", "TRACKS=4 BELLS LAMPS"},
		{"a script of the linker", map[string]string{"box.ld": "/* -DTRACKS=4 */\nOUTPUT_ARCH(armv4t)\n"}, "", ""},
		{"nothing that is plain", map[string]string{"Makefile": "CFLAGS = $(addprefix -D,$(DEFS)) -D$(NAME) -D\nX = -Dtwo words --enable-DTRACKS\n"}, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := follow(t.TempDir())
			write(t, filepath.Join(dir, ".git/HEAD"), "")
			for name, text := range c.files {
				write(t, filepath.Join(dir, name), text)
			}
			if c.source == "" {
				c.source = "box.S"
			}
			var f BuildFiles
			for range 2 { // read, and kept
				s := f.Options(filepath.Join(dir, c.source), NewBounds(dir))
				got := s.Defines
				for _, x := range s.Symbols {
					got = append(got, "--defsym="+x)
				}
				for _, path := range s.Prelude {
					rel, _ := filepath.Rel(dir, path)
					got = append(got, "-include="+filepath.ToSlash(rel))
				}
				if s.Preprocess != "" {
					got = append(got, "-x")
				}
				if strings.Join(got, " ") != c.want {
					t.Errorf("got %q, want %q", strings.Join(got, " "), c.want)
				}
			}
		})
	}
}
