package main

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"hash/fnv"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// options are the flags.
type options struct {
	root, list, area, name string
	shard                  string
	sample                 int
	tags, skip, cache      string
	ask                    string
	workers                int
	factor                 float64
	slack                  float64 // seconds
	quick, fresh, verbose  bool
	only                   bool // the quick tests
	propose                int
	in                     string
	seed                   uint64
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := flags().run(ctx, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

func flags() *options {
	o := &options{slack: 180}
	flag.StringVar(&o.root, "C", ".", "root of the repository that is judged")
	flag.StringVar(&o.list, "list", "", "pattern of files to read instead of the lists in the program")
	flag.StringVar(&o.area, "area", "", "only areas that match this regular expression")
	flag.StringVar(&o.name, "name", "", "only mutants whose names match this regular expression")
	flag.StringVar(&o.shard, "shard", "", "K/N: only each Nth mutant, beginning with the Kth")
	flag.IntVar(&o.sample, "sample", 0, "only so many mutants of each area, the same in each run")
	flag.StringVar(&o.tags, "tags", "reftools", "build tags of the tests")
	flag.StringVar(&o.skip, "skip", "", "tests to leave out, as -skip of go test")
	flag.StringVar(&o.ask, "ask", "", "ask only the tests of packages that match this regular expression: ^./server")
	flag.StringVar(&o.cache, "cache", "", "folder for what was found (default one of the user's)")
	flag.IntVar(&o.workers, "workers", 1, "mutants that are tried at the same time")
	flag.Float64Var(&o.factor, "timeout", 5, "how many times as long as without a mutant tests may take, and three minutes")
	flag.BoolVar(&o.quick, "quick", false, "only say whether all mutants apply and compile")
	flag.BoolVar(&o.only, "first", false, "ask only the quickest tests of each package, 1/32 of the time: what survives is undecided")
	flag.BoolVar(&o.fresh, "fresh", false, "forget what was found before")
	flag.BoolVar(&o.verbose, "v", false, "print each mutant with the test that killed it")
	flag.IntVar(&o.propose, "propose", 0, "print so many changes chosen by chance instead")
	flag.StringVar(&o.in, "in", "", "with -propose: folders or files of the changes, with commas between them")
	flag.Uint64Var(&o.seed, "seed", 1, "with -propose: where chance begins")
	flag.Parse()
	return o
}

// run does what the flags ask for and prints it to w.
func (o *options) run(ctx context.Context, w io.Writer) error {
	t, err := readTree(o.root)
	if err != nil {
		return err
	}
	c, err := newCompiler(o.root)
	if err != nil {
		return err
	}
	if o.propose > 0 {
		return propose(w, t, c, o)
	}
	all, err := readLists(o.list)
	if err != nil {
		return err
	}
	if all, err = o.choose(all); err != nil {
		return err
	}
	results := prepare(t, c, all)
	if !o.quick {
		if err := o.judge(ctx, w, t, results); err != nil {
			return err
		}
	}
	return summary(w, results, o.quick)
}

// choose picks the mutants that the flags ask for.
func (o *options) choose(all []*mutant) ([]*mutant, error) {
	area, err := regexp.Compile(o.area)
	if err != nil {
		return nil, err
	}
	name, err := regexp.Compile(o.name)
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(m *mutant) bool {
		return !area.MatchString(m.area) || !name.MatchString(m.name)
	})
	if o.sample > 0 {
		all = sample(all, o.sample)
	}
	if o.shard == "" {
		return all, nil
	}
	of, n, _ := strings.Cut(o.shard, "/")
	k, err1 := strconv.Atoi(of)
	count, err2 := strconv.Atoi(n)
	if err1 != nil || err2 != nil || k < 1 || k > count {
		return nil, fmt.Errorf("-shard wants K/N with K from 1 to N, not %q", o.shard)
	}
	var some []*mutant
	for i := k - 1; i < len(all); i += count {
		some = append(some, all[i])
	}
	return some, nil
}

// sample picks n mutants of each area by a hash of their names.
func sample(all []*mutant, n int) []*mutant {
	hash := func(m *mutant) uint64 {
		h := fnv.New64a()
		_, _ = h.Write([]byte(m.name))
		return h.Sum64()
	}
	order := slices.Clone(all)
	slices.SortStableFunc(order, func(a, b *mutant) int { return cmp.Compare(hash(a), hash(b)) })
	count, chosen := map[string]int{}, map[*mutant]bool{}
	for _, m := range order {
		if count[m.area]++; count[m.area] <= n {
			chosen[m] = true
		}
	}
	return slices.DeleteFunc(all, func(m *mutant) bool { return !chosen[m] })
}

// A result is what came of one mutant.
type result struct {
	*mutant
	applied *applied
	verdict
	took time.Duration
}

// prepare applies all mutants, and compiles them if there is a compiler.
func prepare(t *tree, c *compiler, all []*mutant) []*result {
	var results []*result
	same := map[string]string{}
	for _, m := range all {
		r := &result{mutant: m}
		results = append(results, r)
		a, err := t.apply(m)
		if err != nil {
			r.verdict = verdict{State: "stale", Output: err.Error()}
			continue
		}
		r.applied = a
		if c != nil {
			if err := c.check(a); err != nil {
				r.verdict = verdict{State: "error", Output: err.Error()}
				continue
			}
		}
		key := a.path + "\x00" + string(a.text)
		if same[key] != "" {
			r.verdict = verdict{State: "error", Output: "the same as " + same[key]}
			continue
		}
		if same[key] = m.name; m.why != "" {
			r.State = "equivalent"
		}
	}
	return results
}

// judge runs the tests for all that is not settled.
func (o *options) judge(ctx context.Context, w io.Writer, t *tree, results []*result) error {
	store, err := o.store()
	if err != nil {
		return err
	}
	var open []*result
	for _, r := range results {
		if r.State != "" {
			continue
		}
		if v, ok := store.find(r.applied, o.only); ok && !o.fresh {
			r.verdict = v
			continue
		}
		open = append(open, r)
	}
	if len(open) == 0 {
		return nil
	}
	ask, err := regexp.Compile(o.ask)
	if err != nil {
		return err
	}
	j, err := newJudge(o.root, o.tags, o.skip)
	if err != nil {
		return err
	}
	j.order = slices.DeleteFunc(j.order, func(pkg string) bool { return !ask.MatchString(pkg) })
	defer os.RemoveAll(j.work)
	j.factor, j.slack = o.factor, time.Duration(o.slack*float64(time.Second))
	var all []*applied
	for _, r := range open {
		all = append(all, r.applied)
	}
	if err := j.together(t, all); err != nil {
		return err
	}
	if err := o.measure(ctx, j, store, open); err != nil {
		return err
	}
	return o.work(ctx, w, j, store, open)
}

// store opens the cache.
func (o *options) store() (*cache, error) {
	dir := o.cache
	if dir == "" {
		user, err := os.UserCacheDir()
		if err != nil {
			return nil, err
		}
		dir = filepath.Join(user, "narrowgauge-mutants")
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	return newCache(dir, o.root, o.tags, o.skip, o.ask)
}

// measure runs the tests without a mutant, of each package that will be asked.
func (o *options) measure(ctx context.Context, j *judge, store *cache, open []*result) error {
	needed := map[string]bool{}
	for _, r := range open {
		for _, pkg := range j.judges(r.applied.pkg()) {
			needed[pkg] = true
		}
	}
	for _, pkg := range j.order {
		if !needed[pkg] {
			continue
		}
		d := store.durations(pkg)
		if d == nil {
			var err error
			if d, err = j.measure(ctx, pkg); err != nil {
				return err
			}
			if err := store.keepDurations(pkg, d); err != nil {
				return err
			}
		}
		fmt.Fprintf(os.Stderr, "%s takes %.0f s without a mutant\n", pkg, d.All.Seconds())
		j.times[pkg] = d
	}
	return nil
}

// work tries the open mutants, several at the same time.
func (o *options) work(ctx context.Context, w io.Writer, j *judge, store *cache, open []*result) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	queue := make(chan *result)
	var (
		group sync.WaitGroup
		lock  sync.Mutex
		done  int
	)
	for range max(o.workers, 1) {
		group.Go(func() {
			for r := range queue {
				start := time.Now()
				v, err := j.judge(ctx, r.applied, append(store.killer(r.name), r.tests...), o.only)
				if err == nil {
					err = store.keep(r.applied, v)
				}
				if err != nil {
					cancel(fmt.Errorf("%s: %w", r.name, err))
					continue
				}
				lock.Lock()
				done++
				r.verdict, r.took = v, time.Since(start)
				if o.verbose || v.State != "killed" {
					fmt.Fprintf(w, "%3d of %d, %3.0f s: %s\n", done, len(open), r.took.Seconds(), r)
				}
				lock.Unlock()
			}
		})
	}
	for _, r := range open {
		for _, s := range store.killer(r.name) {
			if top, _, _ := strings.Cut(strings.Trim(s.Run, "^$"), "$"); top != "" {
				j.kills[killer{r.applied.pkg(), s.Pkg, top}]++
			}
		}
	}
	for _, r := range open {
		select {
		case queue <- r:
		case <-ctx.Done():
		}
	}
	close(queue)
	group.Wait()
	if err := context.Cause(ctx); err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	return ctx.Err()
}
