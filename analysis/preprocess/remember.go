package preprocess

import (
	"maps"
	"slices"
	"strings"

	"narrowgauge/analysis/syntax"
)

// An included file is kept as it came out, with all that it depends on: the macros
// that it has looked up, the files that it has asked for, and some counters. Where
// the next run includes it again and all that is the same, it takes what the file
// has left: the units, the macros, the state of files. The table of macros is one
// that shares its parts with the tables it was made from, so that neither the
// comparison nor the result takes time for what has not changed.
//
// A macro that was defined outside of the file is a new one in every run. It is
// the same to the file if its text is; what the file has noted of it then means
// the new one: see renamed.

// Limits of what is kept.
const (
	maxRecords  = 64 << 20 // bytes, about
	maxVariants = 64       // of one file: it comes out in several ways
	maxTries    = 4        // of them that are compared
	minRecord   = 8        // lines of a file, with those that it includes
	maxAsks     = 1000     // files that one asks for, and that it includes
	maxLinks    = 64       // lists of names below one
	aList       = 256      // names that are worth a list of their own
	manyRenamed = 64       // macros that are worth another record
)

// place says where a file is included.
type place struct {
	path  string
	depth int
}

// renamed says which macro of this run means one of an earlier run.
type renamed map[*Macro]*Macro

func (r renamed) of(m *Macro) *Macro {
	if x := r[m]; x != nil {
		return x
	}
	return m
}

// then is r and next one after the other, for what r is for.
func (r renamed) then(next renamed) renamed {
	if len(next) == 0 {
		return r
	}
	if len(r) == 0 {
		return next
	}
	out := make(renamed, len(r)+len(next))
	made := make(map[*Macro]bool, len(r))
	for k, m := range r {
		out[k] = next.of(m)
		made[m] = true
	}
	for k, m := range next {
		if !made[k] && out[k] == nil {
			out[k] = m
		}
	}
	return out
}

// names is a set of names: own ones, and those of files that are included.
type names struct {
	own   map[string]struct{}
	links []*names
	total int  // of links, at any depth
	full  bool // something was left out
}

func (n *names) add(name string) {
	if n.own == nil {
		n.own = map[string]struct{}{}
	}
	n.own[name] = struct{}{}
}

// join adds another set, which does not change any more.
func (n *names) join(o *names) {
	n.full = n.full || o.full
	if len(o.own) < aList {
		for name := range o.own {
			n.add(name)
		}
		for _, l := range o.links {
			n.link(l)
		}
		return
	}
	n.link(o)
}

func (n *names) link(o *names) {
	if slices.Contains(n.links, o) {
		return
	}
	if n.total += 1 + o.total; n.total > maxLinks {
		n.full = true
		return
	}
	n.links = append(n.links, o)
}

func (n *names) has(name string) bool {
	if _, ok := n.own[name]; ok {
		return true
	}
	for _, l := range n.links {
		if l.has(name) {
			return true
		}
	}
	return false
}

// ask is a question for a file, and the answer.
type ask struct {
	from, name   string
	system, next bool
	path         string
	file         *syntax.File
	ok           bool
}

// frame watches what a file depends on while it is read.
type frame struct {
	parent *frame
	bad    bool // it is not to be kept
	entry  *node
	reads  *names
	asks   []ask
	files  map[string]fileState // as they were when the file began
	counts bool                 // __COUNTER__ was used, and had the value counter
	base   bool                 // __BASE_FILE__ was

	counter int

	units, lines, work, parts, weight int // where it began
}

// record is an included file as it came out.
type record struct {
	raw                 *syntax.File
	entry, exit         *node // the table in front of the file, and after it
	filter              filter
	reads               *names
	asks                []ask
	files, left         map[string]fileState // in front of it, and after it
	counts, base        bool
	counter, counterEnd int
	root                string
	units               []*Unit // its own first; without facts
	lines, work         int
	parts               []part
	now                 renamed

	size int // about how many bytes it keeps alive
	used uint64
}

// spoil says that what happens now cannot be kept.
func (r *run) spoil() {
	for f := r.frame; f != nil; f = f.parent {
		f.bad = true
	}
}

// touch notes the state of a file before it is asked for or changed.
func (r *run) touch(path string) {
	if r.frame == nil {
		return
	}
	if _, ok := r.frame.files[path]; !ok {
		r.frame.see(path, r.files[path])
	}
}

func (f *frame) see(path string, s fileState) {
	if f.files == nil {
		f.files = map[string]fileState{}
	}
	f.files[path] = s
}

func (r *run) setFile(path string, s fileState) {
	r.touch(path)
	if r.files == nil {
		r.files = map[string]fileState{}
	}
	r.files[path] = s
}

func (r *run) readOnce(path string) {
	s := r.files[path]
	s.once = true
	r.setFile(path, s)
}

// included is the unit of an included file: as it came out before, or read now.
func (r *run) included(path string, raw *syntax.File, depth int) *Unit {
	c := r.in.Cache
	if c == nil || !r.in.Remember || r.calling > 0 || !r.disabled.empty() || r.poison || r.stopped {
		return r.file(path, raw, depth)
	}
	at := place{path, depth}
	tried, index := c.records(at, raw, r)
	for _, rec := range tried {
		if u := r.again(c, at, rec); u != nil {
			return u
		}
	}
	f := r.begin(raw)
	u := r.file(path, raw, depth)
	if rec := r.end(f, raw); rec != nil {
		c.keep(at, index, rec, tried)
		r.take(at, rec, index)
	}
	return u
}

// take notes that a record has been used. Each is used once in a run, so that
// no two inclusions share their macros.
func (r *run) take(at place, rec *record, index int) {
	if r.taken == nil {
		r.taken, r.turn = map[*origin]bool{}, map[place]int{}
	}
	for _, u := range rec.units {
		r.taken[u.origin] = true
	}
	r.turn[at] = index + 1
}

// begin opens a frame.
func (r *run) begin(raw *syntax.File) *frame {
	f := &frame{parent: r.frame, entry: r.table.freeze(), reads: &names{}, units: len(r.units), lines: r.lines, work: r.work, weight: r.weight}
	r.fresh(raw)
	f.parts = len(r.parts) - 1
	r.frame = f
	return f
}

// fresh begins lists anew, so that a record does not hold what belongs to others.
func (r *run) fresh(raw *syntax.File) {
	r.chains = chains{} // which have noted names for the file that was read
	if p := &r.parts[len(r.parts)-1]; len(p.macros)+len(p.list) > 0 {
		r.parts = append(r.parts, part{})
	}
	if raw.NumLines() >= aList {
		r.perm, r.segs = arena{}, nil
	}
}

// end closes a frame, and makes a record of it if it can.
func (r *run) end(f *frame, raw *syntax.File) *record {
	r.frame = f.parent
	parts := closed(r.parts[f.parts:])
	r.parts = append(r.parts[:f.parts], part{from: parts}, part{})
	r.fresh(raw)
	left := make(map[string]fileState, len(f.files))
	for path := range f.files {
		left[path] = r.files[path]
	}
	rec := &record{
		raw: raw, entry: f.entry, exit: r.table.freeze(), filter: r.filter, reads: f.reads, asks: slices.Clip(f.asks), files: f.files, left: left,
		counts: f.counts, base: f.base, counter: f.counter, counterEnd: r.counter, root: r.in.Path,
		lines: r.lines - f.lines, work: f.work - r.work, parts: parts,
	}
	f.bad = f.bad || len(f.asks) > maxAsks || f.reads.full
	if r.frame != nil {
		r.frame.bad = r.frame.bad || f.bad
		r.frame.pass(rec)
	}
	if f.bad || r.stopped || r.poison || r.work < 0 || rec.lines < minRecord || len(r.units)-f.units > maxAsks {
		return nil
	}
	rec.units = copies(r.units[f.units:], nil)
	rec.size = 5000 + 50*len(rec.reads.own) + 200*len(rec.asks) + r.weight - f.weight
	return rec
}

// pass tells the frame what a file depends on that is included in it.
func (f *frame) pass(rec *record) {
	if f.bad {
		return
	}
	f.reads.join(rec.reads)
	f.asks = append(f.asks, rec.asks...)
	for path, s := range rec.files {
		if _, ok := f.files[path]; !ok {
			f.see(path, s)
		}
	}
	if rec.counts && !f.counts {
		f.counts, f.counter = true, rec.counter
	}
	f.base = f.base || rec.base
}

// copies makes units for another run, for which now holds too. They include
// each other as the units do.
func copies(list []*Unit, now renamed) []*Unit {
	out := make([]*Unit, len(list))
	all := make([]Unit, len(list))
	to := make(map[*Unit]*Unit, len(list))
	for k, u := range list {
		all[k] = *u
		out[k] = &all[k]
		out[k].facts, out[k].now = nil, u.now.then(now)
		to[u] = out[k]
	}
	for _, u := range out {
		if len(u.Includes) == 0 {
			continue
		}
		u.Includes = maps.Clone(u.Includes)
		for line, inc := range u.Includes {
			if inc.Unit != nil {
				x := *inc
				x.Unit = to[inc.Unit]
				u.Includes[line] = &x
			}
		}
	}
	return out
}

// again takes a record in the place of the file, if nothing has changed that it
// depends on. Files are asked for last: then they are those that the file would
// ask for.
func (r *run) again(c *Cache, at place, rec *record) *Unit {
	if r.work < rec.work || len(r.units)+len(rec.units) > maxUnits || r.lines+rec.lines > maxLines || rec.counts && rec.counter != r.counter || rec.base && rec.root != r.in.Path {
		return nil
	}
	for path, s := range rec.files {
		if r.files[path] != s {
			return nil
		}
	}
	entry := r.table.freeze()
	var now renamed
	out := table{root: rec.exit}
	differ := 0
	if !diff(rec.entry, entry, 0, func(was, is *Macro) bool {
		differ++
		m := was
		if m == nil {
			m = is
		}
		left := rec.exit.get(m.Name)
		if left != was || rec.reads.has(m.Name) {
			if was == nil || is == nil || !was.alike(is) {
				return false
			}
			if now == nil {
				now = renamed{}
			}
			now[was] = is
		}
		switch {
		case left != was: // the file's own
		case is == nil:
			out.del(m.Name)
		default:
			out.set(is)
		}
		return true
	}) {
		return nil
	}
	for _, a := range rec.asks {
		path, file, ok := r.ask(a)
		if path != a.path || file != a.file || ok != a.ok {
			return nil
		}
	}
	r.table = table{root: out.freeze(), changes: r.table.changes + 1}
	for k, is := range rec.filter {
		if is {
			r.filter[k] = true
		}
	}
	if r.files == nil {
		r.files = make(map[string]fileState, len(rec.left))
	}
	maps.Copy(r.files, rec.left)
	if rec.counts {
		r.counter = rec.counterEnd
	}
	r.lines += rec.lines
	r.work -= rec.work
	r.weight += rec.size
	now = rec.now.then(now)
	units := copies(rec.units, now)
	r.units = append(r.units, units...)
	r.fresh(rec.raw)
	r.parts = append(r.parts[:len(r.parts)-1], part{from: rec.parts, now: now}, part{})
	if r.frame != nil {
		r.frame.pass(rec)
	}
	index := c.used(at, rec)
	if differ > manyRenamed {
		// The next run is compared with this one.
		c.replace(at, rec, func(rec *record) {
			rec.entry, rec.exit, rec.filter, rec.now = entry, r.table.root, r.filter, now
		})
	}
	r.take(at, rec, index)
	return units[0]
}

func (r *run) ask(a ask) (string, *syntax.File, bool) {
	if r.in.Load == nil {
		return "", nil, false
	}
	f := r.frame
	r.frame = nil // the record passes its questions on itself
	defer func() { r.frame = f }()
	return r.load(a.from, a.name, a.system, a.next)
}

// alike says whether a file cannot tell two macros apart, wherever they are in
// their file.
func (m *Macro) alike(o *Macro) bool {
	if m.Name != o.Name || !m.same(o) || m.Path != o.Path || m.Builtin != o.Builtin || m.FromSettings != o.FromSettings || (m.origin == nil) != (o.origin == nil) || len(m.body) != len(o.body) {
		return false
	}
	for k, t := range m.body {
		x := *o.body[k]
		x.unit, x.owner = t.unit, t.owner
		x.off, x.end = x.off-o.Start+m.Start, x.end-o.Start+m.Start
		if t.unit == nil {
			x.off, x.end = t.off, t.end
		}
		if x != *t {
			return false
		}
	}
	return true
}

// The cache's half of it.

// records lists those that may fit, in the order in which they are to be tried,
// and the index of the first one.
func (c *Cache) records(at place, raw *syntax.File, r *run) (out []*record, index int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	list := c.kept[at]
	n := len(list)
	first := min(r.turn[at], n)
	for k := 0; k < n && len(out) < maxTries; k++ {
		rec := list[(first+k)%n]
		if rec.raw == raw && !slices.ContainsFunc(rec.units, func(u *Unit) bool { return r.taken[u.origin] }) {
			out = append(out, rec)
		}
	}
	return out, first
}

// used notes that a record fits, and says where it is.
func (c *Cache) used(at place, rec *record) int {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.clock++
	rec.used = c.clock
	return slices.Index(c.kept[at], rec)
}

// replace puts a changed copy of a record in its place.
func (c *Cache) replace(at place, old *record, change func(rec *record)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if k := slices.Index(c.kept[at], old); k >= 0 {
		rec := *old
		change(&rec)
		c.kept[at][k] = &rec
	}
}

// keep adds a record in the place of the one that was used longest ago among
// those that did not fit, or of one of a file that has changed.
func (c *Cache) keep(at place, index int, rec *record, tried []*record) {
	c.mu.Lock()
	defer c.mu.Unlock()
	limit := c.recordLimit
	if limit == 0 {
		limit = maxRecords
	}
	if rec.size > limit/2 {
		return
	}
	if c.kept == nil {
		c.kept = map[place][]*record{}
	}
	c.clock++
	rec.used = c.clock
	list := c.kept[at]
	// Two states of a file may be in use: on disk, and in a dialect that an
	// including file has.
	others := map[*syntax.File]uint64{}
	for _, o := range list {
		if o.raw != rec.raw {
			others[o.raw] = max(others[o.raw], o.used)
		}
	}
	for len(others) > 1 {
		var oldest *syntax.File
		for raw, used := range others {
			if oldest == nil || used < others[oldest] {
				oldest = raw
			}
		}
		delete(others, oldest)
		list = slices.DeleteFunc(list, func(o *record) bool {
			if o.raw == oldest {
				c.recordSize -= o.size
			}
			return o.raw == oldest
		})
	}
	if len(tried) == maxTries || len(list) >= maxVariants {
		var old *record
		if len(tried) == 0 {
			tried = list
		}
		for _, o := range tried {
			if old == nil || o.used < old.used {
				old = o
			}
		}
		if k := slices.Index(list, old); k >= 0 {
			c.recordSize -= old.size
			list = slices.Delete(list, k, k+1)
			index = k
		}
	}
	list = slices.Insert(list, min(index, len(list)), rec)
	c.kept[at] = list
	c.recordSize += rec.size
	for c.recordSize > limit {
		c.dropOldest()
	}
}

// dropOldest gives up what was not used for the longest time.
func (c *Cache) dropOldest() {
	var from place
	at, oldest := -1, uint64(0)
	for p, list := range c.kept {
		for k, rec := range list {
			if at < 0 || rec.used < oldest {
				from, at, oldest = p, k, rec.used
			}
		}
	}
	if at < 0 {
		c.recordSize = 0
		return
	}
	c.recordSize -= c.kept[from][at].size
	if list := slices.Delete(c.kept[from], at, at+1); len(list) > 0 {
		c.kept[from] = list
	} else {
		delete(c.kept, from)
	}
}

// base is the table that a run with these definitions begins with.
type base struct {
	defines string
	table   *node
	macros  []*Macro
	filter  filter
}

// start defines what is built in and what the settings say.
func (r *run) start() {
	c := r.in.Cache
	if !r.in.Remember || c == nil {
		r.given()
		return
	}
	key := strings.Join(r.in.Defines, "\x00")
	c.mu.Lock()
	k := slices.IndexFunc(c.bases, func(b *base) bool { return b.defines == key })
	if k >= 0 {
		b := c.bases[k]
		c.mu.Unlock()
		r.table.root, r.parts, r.filter = b.table, []part{{macros: b.macros}, {}}, b.filter
		return
	}
	c.mu.Unlock()
	r.given()
	b := &base{key, r.table.freeze(), r.parts[0].macros, r.filter}
	r.parts = append(r.parts, part{})
	r.perm = arena{}
	c.mu.Lock()
	if len(c.bases) >= 16 {
		c.bases = slices.Delete(c.bases, 0, 1)
	}
	c.bases = append(c.bases, b)
	c.mu.Unlock()
}

func (r *run) given() {
	r.builtins()
	for _, d := range r.in.Defines {
		r.setting(d)
	}
}
