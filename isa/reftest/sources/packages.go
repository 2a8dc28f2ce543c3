package sources

import (
	"bytes"
	"cmp"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"narrowgauge/isa/reftest"
)

// Package is one of Debian's source packages.
type Package struct {
	Name    string // short
	Debian  string // the binary package that holds the source; empty: see More
	archive string // glob of the source's archive
	top     string // the folder in the archive
	need    []string
	files   *regexp.Regexp // the paths of its ARM sources; nil: those in folders of that name
	// Columns: its sources are of the column dialect.
	Columns bool
	// stubs are what the build generates: files by path, in place of those.
	stubs map[string]string
	build func(dir, file string, c *Config) []build
}

// build is how a makefile calls the preprocessor for a file.
type build struct {
	name    string // tells the builds of one file apart
	defines []string
	include []string // folders
	first   []string // files that are read before
}

// Packages are all that are known, that which installs fastest first.
var Packages = []*Package{newlib, gcc, glibc}

// More are source packages that no binary package brings. Their archives lie in
// the folder that NARROWGAUGE_ARCHIVES names; .ci/real-sources --more fetches
// them.
var More = []*Package{
	{Name: "musl", archive: "musl_*.orig.tar.gz", top: "musl-*", need: []string{"*.s", "*.S", "*.h"}, files: regexp.MustCompile(`/arm/`)},
	{Name: "klibc", archive: "klibc_*.orig.tar.xz", top: "klibc-*", need: []string{"*.S", "*.h"}, build: simply(nil, "usr/include", "usr/include/arch/arm", "usr/klibc")},
	{Name: "pixman", archive: "pixman_*.orig.tar.gz", top: "pixman-*", need: []string{"*.S", "*.h"}, files: regexp.MustCompile(`pixman-arm-.*\.S$`), stubs: map[string]string{"config.h": ""}},
	{Name: "libgcrypt", archive: "libgcrypt20_*.orig.tar.bz2", top: "libgcrypt-*", need: []string{"*.S", "*.h"}, files: regexp.MustCompile(`-arm.*\.S$|mpi/arm/`),
		stubs: map[string]string{"config.h": "#define HAVE_ARM_ARCH_V6 1\n#define HAVE_COMPATIBLE_GCC_ARM_PLATFORM_AS 1\n#define HAVE_GCC_INLINE_ASM_NEON 1\n", "sysdep.h": ""},
		build: simply(nil, "src")},
	{Name: "ffmpeg", archive: "ffmpeg_*.orig.tar.xz", top: "ffmpeg-*", need: []string{"*/arm/*.S", "*.h"},
		stubs: map[string]string{"config.h": "#define HAVE_NEON 1\n#define HAVE_VFP 1\n#define HAVE_VFPV3 1\n#define HAVE_ARMV5TE 1\n#define HAVE_ARMV6 1\n#define HAVE_ARMV6T2 1\n" +
			"#define HAVE_AS_FUNC 0\n#define CONFIG_THUMB 0\n#define HAVE_SETEND 1\n#define HAVE_THUMB 1\n#define EXTERN_ASM\n#define HAVE_VFP_ARGS 1\n#define HAVE_AS_ARCH_DIRECTIVE 1\n" +
			"#define AS_ARCH_LEVEL armv7-a\n#define HAVE_AS_FPU_DIRECTIVE 1\n#define CONFIG_PIC 0\n#define HAVE_SECTION_DATA_REL_RO 1\n"}, build: simply(nil, ".")},
	{Name: "x264", archive: "x264_*.orig.tar.gz", top: "x264-*", need: []string{"*/arm/*.S", "*.h"}, stubs: map[string]string{"config.h": ""}, build: simply(nil, ".", "common/arm")},
	{Name: "u-boot", archive: "u-boot_*.orig.tar.xz", top: "u-boot-*", need: []string{"*/arch/arm/*.S", "*.h", "*/Makefile", "*/config.mk"}, files: regexp.MustCompile(`^arch/arm/`),
		stubs: map[string]string{"generated/generic-asm-offsets.h": "#define GENERATED_GBL_DATA_SIZE 256\n#define GD_SIZE 256\n#define GD_BD 0\n#define GD_MALLOC_BASE 16\n#define GD_RELOCADDR 20\n" +
			"#define GD_RELOC_OFF 24\n#define GD_START_ADDR_SP 28\n#define GD_NEW_GD 32\n#define GD_ENV_ADDR 36\n", "generated/asm-offsets.h": "", "generated/autoconf.h": ""},
		build: simply([]string{"__KERNEL__=1", "__UBOOT__=1", "__ASSEMBLY__=1", "CONFIG_SYS_INIT_SP_ADDR=0x1000", "CONFIG_SPL_STACK=0x1000", "CONFIG_TEXT_BASE=0x1000"},
			"include", "arch/arm/include", "arch/arm/include/asm")},
	{Name: "linux", archive: "linux_*.orig.tar.xz", top: "linux-*", need: []string{"*/arch/arm/*.S", "*/arch/arm/include/*", "*/include/*"}, files: regexp.MustCompile(`^arch/arm/`),
		stubs: map[string]string{"generated/asm-offsets.h": "", "generated/bounds.h": "", "generated/timeconst.h": ""},
		build: simply([]string{"__KERNEL__=1", "__ASSEMBLY__=1", "__LINUX_ARM_ARCH__=7", "CONFIG_MMU=1", "CONFIG_CPU_V7=1", "CONFIG_AEABI=1", "CONFIG_ARM_UNWIND=1", "CONFIG_SMP=1"},
			"arch/arm/include", "include", "arch/arm/include/uapi", "include/uapi")},
	{Name: "libvpx", archive: "libvpx_*.orig.tar.gz", top: "libvpx-*", need: []string{"*/vpx_dsp/arm/*.asm", "*/build/make/*"}, files: regexp.MustCompile(`^vpx_dsp/arm/.*\.asm$`), Columns: true},
}

// simply makes one build of each file.
func simply(defines []string, include ...string) func(string, string, *Config) []build {
	return func(string, string, *Config) []build { return []build{{defines: defines, include: include}} }
}

// Chosen are the source packages that a test reads: only the first, with
// NARROWGAUGE_REAL=all every one that a binary package holds, with more those
// that have to be fetched, or those that the variable names.
func Chosen(t testing.TB) (list []*Package) {
	t.Helper()
	switch v := reftest.Text(reftest.Real); v {
	case "":
		return Packages[:1]
	case "all":
		return Packages
	case "more":
		return More
	default:
		for _, name := range strings.Split(v, ",") {
			p := Find(name)
			if p == nil {
				t.Fatalf("%s: no package %q", reftest.Real, name)
			}
			list = append(list, p)
		}
		return list
	}
}

// Find is the package of that short name, nil without one.
func Find(name string) *Package {
	for _, p := range slices.Concat(Packages, More) {
		if p.Name == name {
			return p
		}
	}
	return nil
}

var newlib = &Package{
	Name: "newlib", Debian: "newlib-source",
	archive: "/usr/src/newlib/newlib-*.tar.xz", top: "newlib-*",
	need:  []string{"*/newlib/libc/machine/arm/*", "*/newlib/libc/sys/arm/*", "*/newlib/libc/sys/phoenix/*", "*/newlib/libc/include/*", "*/libgloss/arm/*", "*/newlib/libc/machine/*/*.S"},
	stubs: map[string]string{"newlib.h": "", "_newlib_version.h": ""},
	build: func(dir, file string, c *Config) []build {
		inc := []string{"newlib/libc/machine/arm", "libgloss/arm", "newlib/libc/sys/phoenix/include", "newlib/libc/include"}
		list := []build{
			{name: "", include: inc},
			{name: "size", include: inc, defines: []string{"__OPTIMIZE_SIZE__=1", "PREFER_SIZE_OVER_SPEED=1"}},
		}
		if strings.HasSuffix(file, "crt0.S") || strings.HasSuffix(file, "trap.S") || strings.Contains(file, "cpu-init") {
			list = append(list,
				build{name: "rdi", include: inc, defines: []string{"ARM_RDI_MONITOR", "HAVE_INITFINI_ARRAY=1", "__USES_INITFINI__"}},
				build{name: "rdi lite", include: inc, defines: []string{"ARM_RDI_MONITOR", "_LITE_EXIT=1", "HAVE_INITFINI_ARRAY=1"}},
				build{name: "rdp", include: inc, defines: []string{"ARM_RDP_MONITOR", "HAVE_CALL_INDIRECT", "__USES_INITFINI__", "_LITE_EXIT=1"}},
				build{name: "profiling", include: inc, defines: []string{"GCRT0", "__USES_INITFINI__"}})
		}
		return list
	},
}

var gcc = &Package{
	Name: "gcc", Debian: "gcc-12-source",
	archive: "/usr/src/gcc-12/gcc-12.*.tar.xz", top: "gcc-12*",
	need: []string{"*/libgcc/config/arm/*", "*/libffi/src/arm/*", "*/libffi/include/*", "*/libitm/config/arm/*", "*/libitm/config/generic/*",
		"*/libphobos/libdruntime/config/arm/*", "*/libphobos/libdruntime/config/common/*",
		"*/libsanitizer/sanitizer_common/*_arm.inc.S", "*/libsanitizer/sanitizer_common/sanitizer_asm.h"},
	stubs: map[string]string{
		"fficonfig.h": "#define HAVE_AS_CFI_PSEUDO_OP 1\n#define HAVE_HIDDEN_VISIBILITY_ATTRIBUTE 1\n#define EH_FRAME_FLAGS \"a\"\n" +
			"#define FFI_HIDDEN(name) .hidden name\n",
		"config.h": "#define HAVE_AS_CFI_PSEUDO_OP 1\n",
	},
	build: buildGCC,
}

// objects finds the names of a makefile fragment's objects, each a part of
// lib1funcs.S.
var objects = regexp.MustCompile(`(?m)^LIB1ASMFUNCS\s*[+:]?=((?:[^\n]|\\\n)*)`)

func buildGCC(dir, file string, c *Config) []build {
	switch {
	case strings.HasSuffix(file, "lib1funcs.S"):
		var names []string
		fragments, _ := filepath.Glob(filepath.Join(dir, "libgcc/config/arm/t-*"))
		for _, f := range fragments {
			text, _ := os.ReadFile(f)
			text = []byte(strings.ReplaceAll(string(text), "\\\n", " "))
			for _, m := range objects.FindAllStringSubmatch(string(text), -1) {
				for _, w := range strings.Fields(m[1]) {
					if strings.HasPrefix(w, "_") {
						names = append(names, w)
					}
				}
			}
		}
		slices.Sort(names)
		list := []build{{name: ""}}
		for _, n := range slices.Compact(names) {
			list = append(list, build{name: n, defines: []string{"L" + n}})
		}
		return list
	case strings.HasPrefix(file, "libffi"):
		inc := []string{"libffi/include", "libffi/src/arm"}
		return []build{
			{include: inc},
			{name: "closures", include: inc, defines: []string{"FFI_EXEC_STATIC_TRAMP=1"}},
			{name: "table", include: inc, defines: []string{"FFI_EXEC_TRAMPOLINE_TABLE=1"}},
		}
	case strings.HasPrefix(file, "libitm"):
		return []build{{include: []string{"libitm/config/arm", "libitm/config/generic"}}}
	case strings.HasPrefix(file, "libphobos"):
		return []build{{}, {name: "linux", defines: []string{"__linux__=1"}}}
	case strings.HasPrefix(file, "libsanitizer"):
		return []build{{name: "linux", include: []string{"libsanitizer"}, defines: []string{"__linux__=1"}}}
	}
	return []build{{}, {name: "linux", defines: []string{"__linux__=1"}}}
}

var glibc = &Package{
	Name: "glibc", Debian: "glibc-source",
	archive: "/usr/src/glibc/glibc-2.*.tar.xz", top: "glibc-2*",
	need: []string{"*/sysdeps/*/arm/*.S", "*/sysdeps/arm/*.S", "*.h"},
	// The offsets that the build computes and the kernel's headers. What the
	// values are does not matter much: they are offsets in structures.
	stubs: map[string]string{
		"config.h": "", "abi-versions.h": "#define ABI_libc_GLIBC_2_0 1\n#define ABI_libc_GLIBC_2_19 2\n#define VERSION_libc_GLIBC_2_0 GLIBC_2.0\n",
		"gnu/stubs.h": "", "bits/syscall.h": "", "misc/bits/syscall.h": "", "stddef.h": "",
		"linux/errno.h":         "#define EPERM 1\n#define EINTR 4\n#define EAGAIN 11\n#define ENOMEM 12\n#define EINVAL 22\n#define ENOSYS 38\n",
		"asm/unistd.h":          "#include <arch-syscall.h>\n",
		"libc-modules.h":        "#define MODULE_LIBS_BEGIN 1000\n#define MODULE_libc 1001\n#define MODULE_rtld 1002\n#define MODULE_libpthread 1003\n#define MODULE_testsuite 1\n#define MODULE_nonlib 2\n",
		"tcb-offsets.h":         "#define TCB_OFFSET 0\n#define MULTIPLE_THREADS_OFFSET 0x40\n#define TID_OFFSET 0x6c\n",
		"rtld-global-offsets.h": "#define RTLD_GLOBAL_RO_DL_HWCAP_OFFSET 24\n",
		"tlsdesc.h":             "#define TLSDESC_ARG 4\n#define TLSDESC_GEN_COUNT 8\n#define TLSDESC_MODID 0\n#define TLSDESC_MODOFF 4\n",
		"ucontext_i.h": "#define SIG_BLOCK 0\n#define SIG_SETMASK 2\n#define UCONTEXT_FLAGS 0\n#define UCONTEXT_LINK 4\n#define UCONTEXT_STACK 8\n" +
			"#define UCONTEXT_MCONTEXT 20\n#define UCONTEXT_SIGMASK 104\n#define UCONTEXT_REGSPACE 232\n#define MCONTEXT_ARM_R0 32\n" +
			"#define MCONTEXT_ARM_R4 48\n#define MCONTEXT_ARM_SP 84\n#define MCONTEXT_ARM_LR 88\n#define MCONTEXT_ARM_PC 92\n#define MCONTEXT_ARM_CPSR 96\n",
	},
	build: func(dir, file string, c *Config) []build {
		if !c.core.a32 {
			return nil // it needs a memory management unit, which no such core has
		}
		inc := []string{"sysdeps/unix/sysv/linux/arm", "sysdeps/arm/nptl", "sysdeps/unix/sysv/linux/include", "sysdeps/unix/sysv/linux",
			"sysdeps/nptl", "sysdeps/gnu", "sysdeps/unix/arm", "sysdeps/unix/sysv", "sysdeps/unix", "sysdeps/posix"}
		if c.core.version >= 7 {
			inc = append(inc, "sysdeps/arm/armv7/multiarch", "sysdeps/arm/armv7")
		}
		if c.core.thumb == 2 {
			inc = append(inc, "sysdeps/arm/armv6t2")
		}
		if c.core.version >= 6 {
			inc = append(inc, "sysdeps/arm/armv6")
		}
		inc = append(inc, "sysdeps/arm/include", "sysdeps/arm", "sysdeps/ieee754", "sysdeps/generic", "include", ".")
		first := []string{"stub:libc-modules.h", "include/libc-symbols.h"}
		common := []string{"__linux__=1", "_LIBC_REENTRANT=1", "TOP_NAMESPACE=glibc"}
		with := func(more ...string) []string { return append(slices.Clone(common), more...) }
		return []build{
			{include: inc, first: first, defines: with("MODULE_NAME=libc")},
			{name: "shared", include: inc, first: first, defines: with("MODULE_NAME=libc", "SHARED=1", "PIC=1")},
			{name: "loader", include: inc, first: first, defines: with("MODULE_NAME=rtld", "SHARED=1", "PIC=1")},
			{name: "profiling", include: inc, first: first, defines: with("MODULE_NAME=libc", "PROF=1")},
		}
	},
}

// unpacked has the folders that this process has unpacked packages into.
var unpacked struct {
	sync.Mutex
	made []string // which RemoveUnpacked removes
	dirs map[*Package]string
}

// RemoveUnpacked removes what Unpack has made. A package with tests that unpack
// calls it in TestMain.
func RemoveUnpacked() {
	unpacked.Lock()
	defer unpacked.Unlock()
	for _, dir := range unpacked.made {
		os.RemoveAll(dir)
	}
	unpacked.made, unpacked.dirs = nil, nil
}

// Unpack takes the parts that are needed out of the package's archive and
// returns the folder, the same one for all tests of a process. Environment:
// NARROWGAUGE_SOURCES names a folder to keep them in; without it they are gone
// with RemoveUnpacked.
func (p *Package) Unpack(t testing.TB) string {
	t.Helper()
	unpacked.Lock()
	defer unpacked.Unlock()
	dir := unpacked.dirs[p]
	if dir == "" {
		dir = p.unpack(t)
		if unpacked.dirs == nil {
			unpacked.dirs = map[*Package]string{}
		}
		unpacked.dirs[p] = dir
	}
	return dir
}

func (p *Package) unpack(t testing.TB) string {
	t.Helper()
	reftest.Require(t, "tar", "xz", "cpp")
	archives, _ := filepath.Glob(p.archive)
	if p.Debian == "" {
		archives, _ = filepath.Glob(filepath.Join(reftest.Text(reftest.Archives), p.archive))
	}
	reftest.Need(t, len(archives) == 1, "Debian package "+cmp.Or(p.Debian, "source of "+p.Name))
	work := reftest.Text(reftest.Sources)
	if work == "" {
		var err error
		if work, err = os.MkdirTemp("", "narrowgauge-sources-"); err != nil {
			t.Fatal(err)
		}
		unpacked.made = append(unpacked.made, work)
	}
	work = filepath.Join(work, p.Name)
	dirs, _ := filepath.Glob(filepath.Join(work, p.top))
	if len(dirs) == 0 {
		if err := os.MkdirAll(work, 0o755); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command("tar", append([]string{"-C", work, "-xf", archives[0], "--wildcards"}, p.need...)...)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("unpacking %s: %v\n%s", archives[0], err, out)
		}
		if dirs, _ = filepath.Glob(filepath.Join(work, p.top)); len(dirs) != 1 {
			t.Fatalf("%s: no folder %s in it", archives[0], p.top)
		}
	}
	stubs := filepath.Join(work, "stubs")
	for name, text := range p.stubs {
		write(t, filepath.Join(stubs, name), text)
	}
	if p == gcc {
		// configure fills in names between at signs.
		text, err := os.ReadFile(filepath.Join(dirs[0], "libffi/include/ffi.h.in"))
		if err != nil {
			t.Fatal(err)
		}
		text = bytes.ReplaceAll(text, []byte("@TARGET@"), []byte("ARM"))
		write(t, filepath.Join(stubs, "ffi.h"), regexp.MustCompile(`@\w+@`).ReplaceAllString(string(text), "0"))
	}
	return dirs[0]
}

func write(t testing.TB, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}
