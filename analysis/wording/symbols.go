package wording

// The sentences about symbols.

func LabelGoesOn(name, where string) string {
	return name + " is already a label, " + where + "; from here on it has this value."
}

func SectionName(name string) string {
	return name + " is the name of a section, which is a symbol too."
}

func DefinedNoSection(name string) string {
	return name + " already has a definition, and a section's name is a symbol too."
}

func AliasNoLabel(name string) string {
	return name + " is an alias of another symbol, so it cannot be a label."
}

func DefinedByItself(name string) string {
	return name + " is defined by itself."
}

func UnknownSum(name string) string {
	return "The value of " + name + " depends on a symbol that is not defined in this file, and is not just that symbol plus a number."
}

func FirstDefinition(name string) string {
	return "the first definition of " + name
}

func DefinedHere(name string) string {
	return name + " is defined here"
}

func VersionUndefined(name string) string {
	return name + " is not defined in this file; '@@' gives a version only to a symbol that is."
}

func RelocUndefined(name string) string {
	return ".reloc needs a place; " + name + " is not defined in this file."
}

func NeedsColon(name string) string {
	return "Add a colon after the label " + name + "."
}
