package eval

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Relation is the value of an expression over names that count from a register:
// sums and differences. ok is false for everything else.
func (p *Evaluator) Relation(e *syntax.Expr, it *program.Item, depth int) (x program.Relative, ok bool) {
	none := program.Relative{Register: isa.NoReg}
	if e == nil || depth > maxDepth {
		return none, false
	}
	if e.Op == syntax.ExprSym {
		if x, ok := p.Related[e.Name]; ok {
			return x, true
		}
	}
	if e.Op == syntax.ExprAdd || e.Op == syntax.ExprSub {
		x, ok1 := p.Relation(e.X, it, depth+1)
		y, ok2 := p.Relation(e.Y, it, depth+1)
		switch {
		case !ok1 || !ok2:
			return none, false
		case e.Op == syntax.ExprSub && y.Register != isa.NoReg:
			return program.Relative{Register: isa.NoReg, N: x.N - y.N}, x.Register == y.Register
		case e.Op == syntax.ExprSub:
			return program.Relative{Register: x.Register, N: x.N - y.N}, true
		case y.Register == isa.NoReg:
			return program.Relative{Register: x.Register, N: x.N + y.N}, true
		}
		return program.Relative{Register: y.Register, N: x.N + y.N}, x.Register == isa.NoReg
	}
	v := p.Expr(e, it, depth+1)
	return program.Relative{Register: isa.NoReg, N: v.N}, v.Kind == program.Number
}

// columnTarget is the value of a built-in variable that says something of the
// target. Those that nothing here knows have none.
func (p *Evaluator) columnTarget(name string, e *program.Environment) (Variable, bool) {
	truth := func(b bool) (Variable, bool) {
		v := Variable{Kind: syntax.VarLogical}
		if b {
			v.Number = -1
		}
		return v, true
	}
	arch, _, profile := e.Generation()
	_, rest, _ := strings.Cut(strings.Trim(name, "{}"), "TARGET_")
	switch rest {
	case "ARCH_ARM":
		n := int64(arch)
		if !e.Have.Has(isa.FeatA32) {
			n = 0
		}
		return Variable{Kind: syntax.VarNumber, Number: n}, true
	case "ARCH_THUMB":
		n := int64(0)
		switch {
		case e.Have.Has(isa.FeatT32):
			n = 4
		case e.Have.Has(isa.FeatV6), e.Have.Has(isa.FeatHint):
			n = 3
		case e.Have.Has(isa.FeatV5T):
			n = 2
		case e.Have.Has(isa.FeatT16):
			n = 1
		}
		return Variable{Kind: syntax.VarNumber, Number: n}, true
	case "PROFILE_A", "PROFILE_R", "PROFILE_M":
		return truth(profile == rest[8])
	}
	f, ok := map[string]isa.Features{"CLZ": isa.FeatV5, "DOUBLEWORD": isa.FeatV5TE, "DSPMUL": isa.FeatDSP, "MULTIPROCESSING": isa.FeatMP, "NEON": isa.FeatNEON, "UNALIGNED": isa.FeatV6}[strings.TrimPrefix(rest, "FEATURE_")]
	switch {
	case ok:
		return truth(e.Have.Has(f))
	case rest == "FEATURE_DIVIDE":
		return truth(e.Have.Has(isa.FeatDivThumb) || e.Have.Has(isa.FeatDivA32))
	case rest == "FPU_SOFTVFP":
		return truth(!e.Have.Has(isa.FeatVFP))
	case rest == "FPU_VFP":
		return truth(e.Have.Has(isa.FeatVFP))
	}
	return Variable{}, false
}

// FloatBits are the bits of a floating-point number of single or double
// precision, as a number.
func FloatBits(text string, double bool) (int64, bool) {
	if double {
		f, err := strconv.ParseFloat(text, 64)
		return int64(math.Float64bits(f)), err == nil
	}
	f, err := strconv.ParseFloat(text, 32)
	return int64(math.Float32bits(float32(f))), err == nil
}

// The column dialect in the first pass: what its lines mean beyond the
// directives that the dot dialect has as well. Variables get their values from
// line to line, so that each statement is handed on with the values that hold
// there.

// MaxString bounds the strings in variables, in bytes (from memory of the armasm
// manual).
const MaxString = 5120

// Variable is one of GBLA and the like.
type Variable struct {
	Kind   int // syntax.VarNumber, VarLogical, VarString
	Number int64
	Str    string
}

// Text is what "$name" is replaced by. Numbers are eight hexadecimal digits
// (from memory of the armasm manual).
func (v *Variable) Text() string {
	switch v.Kind {
	case syntax.VarNumber:
		return fmt.Sprintf("%08X", uint32(v.Number))
	case syntax.VarLogical:
		if v.Number != 0 {
			return "{TRUE}"
		}
		return "{FALSE}"
	}
	return v.Str
}

// columnVariables are the variables of the column dialect where the program is read
// now.
type columnVariables struct {
	Variables map[string]*Variable
	VarStack  []map[string]*Variable // of the macros that are expanded now
	MapAt     int64                  // {VAR}
	MapReg    isa.Reg                // what it counts from, NoReg for nothing
}

// Variable finds a variable by its name; nil without one.
func (p *Evaluator) Variable(name string) *Variable {
	if n := len(p.VarStack); n > 0 {
		if v := p.VarStack[n-1][name]; v != nil {
			return v
		}
	}
	return p.Variables[name]
}

// ColumnValue computes an argument: a number, a truth or a string. ok is false
// when it depends on what is not known; what is wrong is reported.
func (p *Evaluator) ColumnValue(o *syntax.Operand, it *program.Item) (Variable, bool) {
	switch {
	case o.IsStr:
		return Variable{Kind: syntax.VarString, Str: o.Names.Str}, true
	case o.Known:
		return Variable{Kind: syntax.VarNumber, Number: o.Imm}, true
	case o.Expr != nil:
		return p.ColumnEval(o.Expr, it, 0)
	case o.Word != "":
		return p.ColumnEval(&syntax.Expr{Op: syntax.ExprSym, Name: o.Word, Start: o.Start, End: o.End}, it, 0)
	}
	return Variable{}, false
}

// noVariable is what has no value as a variable.
var noVariable = Variable{}

func numberVariable(n int64) Variable { return Variable{Kind: syntax.VarNumber, Number: n} }

func textVariable(s string) Variable { return Variable{Kind: syntax.VarString, Str: s} }

// truthVariable is a logical value: true has all bits set.
func truthVariable(b bool) Variable {
	if b {
		return Variable{Kind: syntax.VarLogical, Number: -1}
	}
	return Variable{Kind: syntax.VarLogical}
}

// ColumnEval computes an expression of the column dialect, with variables and strings.
func (p *Evaluator) ColumnEval(e *syntax.Expr, it *program.Item, depth int) (Variable, bool) {
	if e == nil || depth > maxDepth {
		return noVariable, false
	}
	if e.Op == syntax.ExprSym {
		if v := p.Variable(e.Name); v != nil {
			return *v, true
		}
	}
	if arithmetic(e.Op) {
		v, _, ok := p.columnSum(e, it, depth)
		return v, ok
	}
	if e.Op != syntax.ExprColumns {
		v := p.Expr(e, it, depth+1)
		return numberVariable(v.N), v.Kind == program.Number
	}
	if v, ok, found := p.columnLeaf(e, it, depth); found {
		return v, ok
	}
	if e.Name == "?" || e.X == nil {
		return noVariable, false
	}
	x, ok := p.ColumnEval(e.X, it, depth+1)
	if e.Y == nil {
		if !ok {
			return noVariable, false
		}
		return columnUnary(e.Name, x)
	}
	// What decides by itself does so, whatever the other side is.
	if ok && decides(e.Name, x) && x.Kind != syntax.VarString {
		return truthVariable(x.Number != 0), true
	}
	y, ok2 := p.ColumnEval(e.Y, it, depth+1)
	switch {
	case ok && ok2:
		return columnBinary(e.Name, x, y)
	case ok2 && decides(e.Name, y):
		return truthVariable(y.Number != 0), true
	}
	return noVariable, false
}

// decides says whether one side of a logical operator says what comes out.
func decides(operator string, x Variable) bool {
	return operator == "LAND" && x.Number == 0 || operator == "LOR" && x.Number != 0
}

// columnLeaf computes what is no operator on values: strings, symbols that are asked about,
// built-in variables. found is false for all else.
func (p *Evaluator) columnLeaf(e *syntax.Expr, it *program.Item, depth int) (v Variable, ok, found bool) {
	switch e.Name {
	case "str":
		return textVariable(e.X.Name), true, true
	case "float":
		return noVariable, false, true
	case "INDEX", "BASE":
		x, ok := p.Relation(e.X, it, depth)
		if !ok {
			return noVariable, false, true
		}
		if e.Name == "BASE" {
			x.N = int64(isa.PC) // that labels count from
			if x.Register != isa.NoReg {
				x.N = int64(x.Register)
			}
		}
		return numberVariable(x.N), true, true
	case "DEF":
		return truthVariable(p.columnDefined(e.X.Name)), true, true
	}
	if e.Name[0] == '{' {
		v, ok = p.builtin(e.Name, &p.Environments[it.Environment])
		return v, ok, true
	}
	return noVariable, false, false
}

// columnDefined says whether a name is defined, as :DEF: has it.
func (p *Evaluator) columnDefined(name string) bool {
	if name[0] == '{' {
		return strings.Contains(builtins, name)
	}
	y := p.Table.Find(name)
	return p.Variable(name) != nil || y != nil && (y.Defined || y.Extern || y.Kind == program.SymRegister)
}

// builtin is the value of a built-in variable.
func (p *Evaluator) builtin(name string, env *program.Environment) (Variable, bool) {
	switch name {
	case "{VAR}":
		return numberVariable(p.MapAt), true
	case "{ENDIAN}":
		return textVariable("little"), true
	case "{CODESIZE}", "{CONFIG}":
		if env.Mode == isa.A {
			return numberVariable(32), true
		}
		return numberVariable(16), true
	case "{OPT}", "{INTER}", "{ROPI}", "{RWPI}", "{NOSWST}", "{NOT_THUMB}":
		return truthVariable(false), true
	}
	return p.columnTarget(name, env)
}

// columnUnary computes an operator on one value.
func columnUnary(operator string, x Variable) (Variable, bool) {
	switch operator {
	case "LNOT":
		return truthVariable(x.Number == 0), true
	case "LEN":
		if x.Kind == syntax.VarString {
			return numberVariable(int64(len(x.Str))), true
		}
	case "CHR":
		return textVariable(string([]byte{byte(x.Number)})), true
	case "STR":
		switch x.Kind {
		case syntax.VarLogical:
			return textVariable(map[bool]string{true: "T", false: "F"}[x.Number != 0]), true
		case syntax.VarNumber:
			return textVariable(fmt.Sprintf("%08X", uint32(x.Number))), true
		}
		return x, true
	case "UPPERCASE":
		return textVariable(strings.ToUpper(x.Str)), true
	case "LOWERCASE":
		return textVariable(strings.ToLower(x.Str)), true
	case "RCONST":
		return numberVariable(x.Number), true
	}
	return noVariable, false
}

// columnBinary computes an operator on two values.
func columnBinary(operator string, x, y Variable) (Variable, bool) {
	both := x.Kind == syntax.VarString && y.Kind == syntax.VarString
	switch {
	case operator == "CC" && both:
		if len(x.Str)+len(y.Str) > 2*MaxString {
			return noVariable, false
		}
		return textVariable(x.Str + y.Str), true
	case operator == "LEFT" && y.Number >= 0 && y.Number <= int64(len(x.Str)):
		return textVariable(x.Str[:y.Number]), true
	case operator == "RIGHT" && y.Number >= 0 && y.Number <= int64(len(x.Str)):
		return textVariable(x.Str[int64(len(x.Str))-y.Number:]), true
	case both:
		return columnOrder(operator, strings.Compare(x.Str, y.Str))
	case x.Kind == syntax.VarString || y.Kind == syntax.VarString:
		return noVariable, false
	}
	n, ok := syntax.FoldColumns(operator, x.Number, y.Number)
	if !ok {
		return noVariable, false
	}
	switch operator {
	case "=", "<>", "<", "<=", ">", ">=", "LAND", "LOR", "LEOR":
		return Variable{Kind: syntax.VarLogical, Number: n}, true
	}
	return numberVariable(n), true
}

// columnOrder is what a comparison of two strings comes to: c is negative if the first
// is before the second in the order of characters, 0 if they are the same.
func columnOrder(operator string, c int) (Variable, bool) {
	switch operator {
	case "=":
		return truthVariable(c == 0), true
	case "<>":
		return truthVariable(c != 0), true
	case "<":
		return truthVariable(c < 0), true
	case "<=":
		return truthVariable(c <= 0), true
	case ">":
		return truthVariable(c > 0), true
	case ">=":
		return truthVariable(c >= 0), true
	}
	return noVariable, false
}

// arithmetic says whether an operator of both dialects takes the values of variables
// on its sides.
func arithmetic(op syntax.ExprOp) bool {
	switch op {
	case syntax.ExprAdd, syntax.ExprSub, syntax.ExprMul, syntax.ExprDiv, syntax.ExprAnd, syntax.ExprOr, syntax.ExprXor:
		return true
	}
	return false
}

// columnSum computes such an operator: what it comes to as a variable has it, if ok,
// and as an operand has it. Both at once: what is nested would otherwise be computed
// twice on each level.
func (p *Evaluator) columnSum(e *syntax.Expr, it *program.Item, depth int) (Variable, program.Value, bool) {
	x, xv, ok1 := p.columnSide(e.X, it, depth+1)
	y, yv, ok2 := p.columnSide(e.Y, it, depth+1)
	if ok1 && ok2 {
		if n, ok := syntax.Fold(e.Op, x.Number, y.Number); ok && x.Kind != syntax.VarString && y.Kind != syntax.VarString {
			return Variable{Kind: syntax.VarNumber, Number: n}, program.Value{Kind: program.Number, N: n}, true
		}
		return Variable{}, p.notKnown(e, it, depth), false
	}
	v := p.binary(e, xv, yv, it)
	return Variable{Kind: syntax.VarNumber, Number: v.N}, v, v.Kind == program.Number
}

// columnSide computes one side of it.
func (p *Evaluator) columnSide(e *syntax.Expr, it *program.Item, depth int) (Variable, program.Value, bool) {
	switch {
	case e != nil && depth <= maxDepth && arithmetic(e.Op):
		return p.columnSum(e, it, depth)
	case e == nil || depth > maxDepth || e.Op == syntax.ExprColumns || e.Op == syntax.ExprSym && p.Variable(e.Name) != nil:
		v, ok := p.ColumnEval(e, it, depth)
		return v, p.operandValue(v, ok, e, it, depth), ok
	}
	v := p.Expr(e, it, depth)
	return Variable{Kind: syntax.VarNumber, Number: v.N}, v, v.Kind == program.Number
}

// builtins are the names in braces that are always defined.
const builtins = "{PC}{VAR}{TRUE}{FALSE}{OPT}{CONFIG}{ENDIAN}{CODESIZE}{CPU}{FPU}{ARCHITECTURE}{INTER}{ROPI}{RWPI}{LINENUM}{INPUTFILE}{COMMANDLINE}{AREANAME}"

// columnExpr is the value of an operator of the column dialect in an operand.
func (p *Evaluator) columnExpr(e *syntax.Expr, it *program.Item, depth int) program.Value {
	v, ok := p.ColumnEval(e, it, depth)
	return p.operandValue(v, ok, e, it, depth)
}

// operandValue is the value in an operand of an expression that comes to v, if ok.
func (p *Evaluator) operandValue(v Variable, ok bool, e *syntax.Expr, it *program.Item, depth int) program.Value {
	if !ok {
		return p.notKnown(e, it, depth)
	}
	if v.Kind == syntax.VarString {
		if len(v.Str) == 1 {
			return program.Value{Kind: program.Number, N: int64(v.Str[0])}
		}
		return program.Value{Kind: program.Bad, Why: program.StringOperand}
	}
	return program.Value{Kind: program.Number, N: v.Number}
}

// notKnown is the value of an expression that cannot be computed here. Whether
// something in it is missing is known at the end.
func (p *Evaluator) notKnown(e *syntax.Expr, it *program.Item, depth int) program.Value {
	missing := program.Value{}
	e.Walk(func(x *syntax.Expr) {
		if x.Op == syntax.ExprSym && e.Name != "DEF" && missing.Symbol == nil {
			if v := p.Expr(x, it, depth+1); v.Kind == program.Undefined {
				missing = v
			}
		}
	})
	if missing.Symbol != nil {
		missing.Mixed = true
		return missing
	}
	return program.Value{Kind: program.Unknown}
}

// ColumnLocal finds the numeric local label of %b1 and the like: in the section and
// after the ROUT that it is in, and there in the macro that is expanded, or in
// what calls it.
func (p *Evaluator) ColumnLocal(e *syntax.Expr, it *program.Item) program.Value {
	mode, routine, _ := strings.Cut(e.Name, ":")
	id, sec := it.Index, it.Section
	at := p.ScopeAt(id, sec)
	if routine != "" && routine != at.Named() {
		return program.Value{Kind: program.Bad, Why: program.OtherRoutine, Name: routine, Firm: true}
	}
	var last, next *program.Symbol
	for up := p.Level(p.SourceOf(id)); ; {
		list := p.Scoped[program.LocalScope{Number: int32(e.Val), Level: up, Section: sec, Routine: at}]
		k := sort.Search(len(list), func(k int) bool { return list[k].Item > id })
		if k > 0 && (last == nil || list[k-1].Item > last.Item) {
			last = list[k-1]
		}
		if k < len(list) && (next == nil || list[k].Item < next.Item) {
			next = list[k]
		}
		if up <= 0 || strings.Contains(mode, "t") {
			break
		}
		up = p.Level(p.Items[p.Sources[up].From].File)
	}
	found := last
	if !e.Back && (found == nil || strings.Contains(mode, "f")) {
		found = next
	}
	if found == nil {
		return program.Value{Kind: program.Undefined, Num: int32(e.Val) + 1, Back: e.Back}
	}
	v := p.placed(found.Value)
	v.Symbol = found
	return v
}
