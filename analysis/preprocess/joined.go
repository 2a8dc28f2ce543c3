package preprocess

import (
	"narrowgauge/analysis/syntax"
)

// Joined is a file that goes through no preprocessor, with each statement in one line: see
// syntax.Joint. It is a unit as the text of several lines is in the first of them, and columns
// there are others; nil where each is in one line as it is.
func Joined(path string, raw *syntax.File) *Unit {
	lines, joints := raw.Joints()
	if lines == nil {
		return nil
	}
	u := &Unit{Path: path, Raw: raw, File: raw.WithLines(lines), Whole: true, joined: map[int]int{}, origin: &origin{}, facts: &facts{}}
	for i := range joints {
		j := &joints[i]
		at, out, n := raw.LineStart(j.First), int32(0), int32(len(lines[j.First].Text))
		var segs []seg
		for _, feed := range append(j.Feeds, int(n)) {
			long := int32(feed) - out
			segs = append(segs, seg{out: out, outEnd: out + long, raw: at, rawEnd: at + int(long)})
			at, out = at+int(long), out+long
			if out < n { // the escape is for one byte
				segs = append(segs, seg{out: out, outEnd: out + 2, raw: at, rawEnd: at + 1})
				at, out = at+1, out+2
			}
		}
		u.changed = append(u.changed, lineMap{j.First, segs})
		for k := j.First + 1; k <= j.Last; k++ {
			u.joined[k] = j.First
		}
	}
	return u
}
