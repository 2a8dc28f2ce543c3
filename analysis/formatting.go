package analysis

import (
	"narrowgauge/analysis/format"
	"narrowgauge/analysis/syntax"
)

// Format lists the edits that lay out the lines first to last of a file, both counted from
// 0, as the setting format says and, for the rest, as most lines of the file are. They are
// sorted, none reaches over a line end, and what is assembled stays the same; see package
// format. Settings with an unknown value count as the default.
func Format(f *syntax.File, set *Settings, first, last int) []Edit {
	var o format.Options
	if set != nil {
		if d, ok := syntax.DialectNamed(set.Dialect); ok {
			f = f.As(d)
		}
		o, _ = format.Parse(set.Format)
		if len(set.Defines)+len(set.Prelude) > 0 && o.Case == "" {
			o.Case = "keep" // the preprocessor may know other names
		}
	}
	return format.Edits(f, o, max(0, first), min(last, f.NumLines()-1))
}
