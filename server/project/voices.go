package project

import (
	"context"
	"encoding/json"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// The bounds of what is asked of the sources beside one: how many, and their bytes.
const (
	maxNeighbours     = 8
	maxNeighbour      = 64 << 10
	maxNeighbourBytes = 256 << 10
)

// Voices keeps what sources say of their target, for those beside them. It is safe for
// concurrent use.
type Voices struct {
	mu   sync.Mutex
	kept map[string]keptVoice // by path and settings
}

type keptVoice struct {
	stamp Stamp
	voice *analysis.Voice
}

// Beside gives what the sources in the folder of one say, which is an absolute path. They
// are analysed with the settings and the search of that one.
func (v *Voices) Beside(ctx context.Context, source string, set *analysis.Settings, search *Search) (out []*analysis.Voice) {
	dir, b := filepath.Dir(source), search.Bounds
	left, asked := int64(maxNeighbourBytes), 0
	for _, name := range folderNames(dir, b) {
		path := filepath.Join(dir, name)
		if path == source || strings.HasPrefix(name, ".") || !slices.Contains(ProgramNames, filepath.Ext(name)) {
			continue
		}
		stamp := b.Stamp(path)
		if stamp == (Stamp{}) || stamp.Size > maxNeighbour || stamp.Size > left {
			continue
		}
		if asked++; asked > maxNeighbours || ctx.Err() != nil {
			break
		}
		left -= stamp.Size
		if voice := v.of(ctx, path, stamp, set, search); voice != nil {
			out = append(out, voice)
		}
	}
	return out
}

// of is the voice of one source in a state of it.
func (v *Voices) of(ctx context.Context, path string, stamp Stamp, set *analysis.Settings, search *Search) *analysis.Voice {
	key := path
	if set != nil {
		said, _ := json.Marshal(set)
		key += "\x00" + string(said) // the same source says other things with others
	}
	v.mu.Lock()
	have, ok := v.kept[key]
	v.mu.Unlock()
	if ok && have.stamp == stamp {
		return have.voice
	}
	data, err := search.Bounds.ReadFile(path)
	if err != nil {
		return nil
	}
	search = search.Of(path)
	in := &analysis.Input{Path: path, File: syntax.Parse(string(data)), Set: set, Load: search.Load, Size: search.Size}
	voice, err := analysis.Listen(ctx, in, filepath.Base(path))
	if err != nil {
		return nil
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.kept == nil || len(v.kept) > maxKeptFolders {
		v.kept = map[string]keptVoice{}
	}
	v.kept[key] = keptVoice{stamp, voice}
	return voice
}
