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

func (p *Evaluator) ColumnEval(e *syntax.Expr, it *program.Item, depth int) (Variable, bool) {
	if e == nil || depth > maxDepth {
		return Variable{}, false
	}
	number := func(n int64) (Variable, bool) { return Variable{Kind: syntax.VarNumber, Number: n}, true }
	truth := func(b bool) (Variable, bool) {
		v := Variable{Kind: syntax.VarLogical}
		if b {
			v.Number = -1
		}
		return v, true
	}
	text := func(s string) (Variable, bool) { return Variable{Kind: syntax.VarString, Str: s}, true }
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
		return Variable{Kind: syntax.VarNumber, Number: v.N}, v.Kind == program.Number
	}
	switch e.Name {
	case "str":
		return text(e.X.Name)
	case "float":
		return Variable{}, false
	case "INDEX", "BASE":
		x, ok := p.Relation(e.X, it, depth)
		if !ok {
			return Variable{}, false
		}
		if e.Name == "BASE" {
			x.N = 15 // PC, that labels count from
			if x.Register != isa.NoReg {
				x.N = int64(x.Register)
			}
		}
		return number(x.N)
	case "DEF":
		n := e.X.Name
		if n[0] == '{' {
			return truth(strings.Contains(builtins, n))
		}
		y := p.Table.Find(n)
		return truth(p.Variable(n) != nil || y != nil && (y.Defined || y.Extern || y.Kind == program.SymRegister))
	case "{VAR}":
		return number(p.MapAt)
	case "{ENDIAN}":
		return text("little")
	case "{CODESIZE}", "{CONFIG}":
		if p.Environments[it.Environment].Mode == isa.A {
			return number(32)
		}
		return number(16)
	case "{OPT}", "{INTER}", "{ROPI}", "{RWPI}", "{NOSWST}", "{NOT_THUMB}":
		return truth(false)
	}
	if e.Name[0] == '{' {
		return p.columnTarget(e.Name, &p.Environments[it.Environment])
	}
	if e.Name == "?" || e.X == nil {
		return Variable{}, false
	}
	x, ok := p.ColumnEval(e.X, it, depth+1)
	if e.Y == nil {
		if !ok {
			return Variable{}, false
		}
		s := x.Str
		switch e.Name {
		case "LNOT":
			return truth(x.Number == 0)
		case "LEN":
			if x.Kind == syntax.VarString {
				return number(int64(len(s)))
			}
		case "CHR":
			return text(string([]byte{byte(x.Number)}))
		case "STR":
			if x.Kind == syntax.VarLogical {
				return text(map[bool]string{true: "T", false: "F"}[x.Number != 0])
			}
			if x.Kind == syntax.VarNumber {
				return text(fmt.Sprintf("%08X", uint32(x.Number)))
			}
			return x, true
		case "UPPERCASE":
			return text(strings.ToUpper(s))
		case "LOWERCASE":
			return text(strings.ToLower(s))
		case "RCONST":
			return number(x.Number)
		}
		return Variable{}, false
	}
	// What decides by itself does so, whatever the other side is.
	if ok && (e.Name == "LAND" && x.Number == 0 || e.Name == "LOR" && x.Number != 0) && x.Kind != syntax.VarString {
		return truth(x.Number != 0)
	}
	y, ok2 := p.ColumnEval(e.Y, it, depth+1)
	if !ok || !ok2 {
		if ok2 && (e.Name == "LAND" && y.Number == 0 || e.Name == "LOR" && y.Number != 0) {
			return truth(y.Number != 0)
		}
		return Variable{}, false
	}
	str := x.Kind == syntax.VarString && y.Kind == syntax.VarString
	switch {
	case e.Name == "CC" && str:
		if len(x.Str)+len(y.Str) > 2*MaxString {
			return Variable{}, false
		}
		return text(x.Str + y.Str)
	case e.Name == "LEFT" && y.Number >= 0 && y.Number <= int64(len(x.Str)):
		return text(x.Str[:y.Number])
	case e.Name == "RIGHT" && y.Number >= 0 && y.Number <= int64(len(x.Str)):
		return text(x.Str[int64(len(x.Str))-y.Number:])
	case str:
		c := strings.Compare(x.Str, y.Str)
		switch e.Name {
		case "=":
			return truth(c == 0)
		case "<>":
			return truth(c != 0)
		case "<":
			return truth(c < 0)
		case "<=":
			return truth(c <= 0)
		case ">":
			return truth(c > 0)
		case ">=":
			return truth(c >= 0)
		}
		return Variable{}, false
	case x.Kind == syntax.VarString || y.Kind == syntax.VarString:
		return Variable{}, false
	}
	n, ok := syntax.FoldColumns(e.Name, x.Number, y.Number)
	if !ok {
		return Variable{}, false
	}
	switch e.Name {
	case "=", "<>", "<", "<=", ">", ">=", "LAND", "LOR", "LEOR":
		return Variable{Kind: syntax.VarLogical, Number: n}, true
	}
	return number(n)
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
