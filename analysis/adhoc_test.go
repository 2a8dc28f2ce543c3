package analysis

import (
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sort"
	"strings"
	"sync"
	"testing"

	"narrowgauge/isa/reftest/sources"
)

func TestAdhoc(t *testing.T) {
	root := os.Getenv("ADHOC")
	incs := strings.Fields(os.Getenv("ADHOC_INC"))
	defs := strings.Fields(os.Getenv("ADHOC_DEF"))
	pick := os.Getenv("ADHOC_CONFIGS")
	var files []string
	filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && (strings.HasSuffix(p, ".S") || strings.HasSuffix(p, ".s")) && !strings.Contains(p, "aarch64") && !strings.Contains(p, "arm64") && !strings.Contains(p, "armv8") {
			if strings.Contains(strings.ToLower(p), "arm") {
				files = append(files, p)
			}
		}
		return nil
	})
	var cfgs []*sources.Config
	for i := range sources.Configs {
		c := &sources.Configs[i]
		if pick == "" || strings.Contains(","+pick+",", ","+c.Name+",") {
			cfgs = append(cfgs, c)
		}
	}
	var texts []*realText
	var mu sync.Mutex
	var wg sync.WaitGroup
	sem := make(chan bool, runtime.NumCPU())
	refused := 0
	for _, f := range files {
		for _, c := range cfgs {
			wg.Add(1)
			go func() {
				defer wg.Done()
				sem <- true
				defer func() { <-sem }()
				args := []string{"-P", "-undef", "-x", "assembler-with-cpp", "-nostdinc", "-D__ASSEMBLER__"}
				for _, d := range append(c.Defines(), defs...) {
					args = append(args, "-D"+d)
				}
				args = append(args, "-I"+filepath.Dir(f))
				for _, i := range incs {
					args = append(args, "-I"+i)
				}
				args = append(args, "-I/tmp/w/src/stubs")
				out, err := exec.Command("cpp", append(args, f)...).Output()
				if e, is := err.(*exec.ExitError); is && os.Getenv("ADHOC_V") != "" {
					fmt.Printf("%s\n", strings.SplitN(string(e.Stderr), "\n", 4)[:2])
				}
				mu.Lock()
				defer mu.Unlock()
				if err != nil {
					refused++
					return
				}
				texts = append(texts, &realText{unit: &sources.Unit{File: f, Config: c}, text: string(out)})
			}()
		}
	}
	wg.Wait()
	sort.Slice(texts, func(i, j int) bool { return texts[i].unit.File+texts[i].unit.Config.Name < texts[j].unit.File+texts[j].unit.Config.Name })
	judgeReal(t, texts)
	ok, bad := 0, 0
	kinds := map[string]int{}
	ex := map[string]string{}
	for _, x := range texts {
		if x.ok {
			ok++
		} else {
			bad++
		}
		for _, l := range x.silent {
			k := "silent: " + strings.Join(strings.Fields(x.line(l)), " ")
			kinds[k]++
			ex[k] = fmt.Sprintf("%s %s:%d", x.unit.Config.Name, x.unit.File, l)
		}
		for l, m := range x.alarms {
			k := "ALARM: " + m + " | " + strings.Join(strings.Fields(x.line(l)), " ")
			kinds[k]++
			ex[k] = fmt.Sprintf("%s %s:%d ok=%v", x.unit.Config.Name, x.unit.File, l, x.ok)
		}
	}
	fmt.Printf("%d files, %d not preprocessed, %d taken, %d refused\n", len(files), refused, ok, bad)
	var ks []string
	for k := range kinds {
		ks = append(ks, k)
	}
	sort.Slice(ks, func(i, j int) bool { return kinds[ks[i]] > kinds[ks[j]] })
	for i, k := range ks {
		if i > 60 {
			break
		}
		fmt.Printf("%5d %.330s   {%s}\n", kinds[k], strings.ToValidUTF8(k, ""), ex[k])
	}
}
