package preprocess

import (
	"strings"
	"sync"

	"narrowgauge/analysis/syntax"
)

// maxCache is how many bytes a cache keeps in each of its two halves, where a
// line counts as its text and cacheLine bytes.
const (
	maxCache  = 16 << 20
	cacheLine = 500
)

// Cache keeps lines that the preprocessor changed, parsed, and included files
// from one run to the next. It is bounded, and several runs may use it at once. The zero value is
// ready.
type Cache struct {
	mu sync.Mutex
	// What was used lately, and what was used before that.
	now, before map[cacheKey]*syntax.Line
	size        int
	limit       int // maxCache if it is zero

	// Included files as they came out: see remember.go.
	kept        map[place][]*record
	recordSize  int
	recordLimit int // maxRecords if it is zero
	clock       uint64
	bases       []*base // what runs begin with
}

type cacheKey struct {
	text    string
	dialect syntax.Dialect
	open    bool
}

// line is the parsed line of a text.
func (c *Cache) line(p *syntax.LineParser, d syntax.Dialect, text string, open bool) *syntax.Line {
	k := cacheKey{text, d, open}
	c.mu.Lock()
	defer c.mu.Unlock()
	l := c.now[k]
	if l != nil {
		return l
	}
	if l = c.before[k]; l == nil {
		k.text = strings.Clone(text)
		l = p.Parse(k.text, open)
	}
	limit := c.limit
	if limit == 0 {
		limit = maxCache
	}
	if c.size += len(text) + cacheLine; c.size > limit || c.now == nil {
		c.before, c.now, c.size = c.now, map[cacheKey]*syntax.Line{}, len(text)+cacheLine
	}
	c.now[k] = l
	return l
}
