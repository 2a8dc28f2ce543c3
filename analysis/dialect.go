package analysis

import "narrowgauge/analysis/syntax"

// dialectOf is the dialect of the text that an item stands in.
func (r *Program) dialectOf(it *item) syntax.Dialect { return r.sources[it.file].file.Dialect() }

// unit is how many bytes a value of a data directive has.
func (r *Program) unit(it *item) int {
	if r.envs[0].halfWords && it.stmt.Dir.Name == ".word" {
		return 2
	}
	return it.stmt.Dir.Unit
}
