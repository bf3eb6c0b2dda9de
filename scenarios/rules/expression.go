package rules

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strconv"
	"sync"
	"unicode/utf8"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"
	"github.com/expr-lang/expr/vm"
)

// Language is the names that an expression may use: functions, and values that
// are known when it runs. It serves those who write questions, who compute with
// looked-up figures, where a rule only compares facts. Many goroutines may use it.
type Language struct {
	functions map[string]any
	names     map[string]any // functions, and a sample of each value
	compiled  sync.Map       // *Expression by its source: the same is often said twice
}

// NewLanguage makes a language of Go functions. Each takes and gives numbers
// (float64), texts (string) and yes-or-no (bool), or takes a map[string]any; it may
// give an error besides.
func NewLanguage(functions map[string]any) *Language {
	return &Language{functions: functions, names: functions}
}

// With is the language with values besides: the name of each, and a sample that
// tells its type, a float64, a string or a bool.
func (l *Language) With(samples map[string]any) *Language {
	names := maps.Clone(l.names)
	maps.Copy(names, samples)
	return &Language{functions: l.functions, names: names}
}

// Values is what an expression runs with: put the values into it by name.
func (l *Language) Values() Values { return maps.Clone(l.functions) }

// Values are functions and values by name. They come from [Language.Values].
type Values map[string]any

// An ExpressionError says what is wrong with an expression, and where.
type ExpressionError struct {
	Offset  int // in characters from its start
	Message string
}

// Error gives the message and the place.
func (e *ExpressionError) Error() string { return fmt.Sprintf("%s (at %d)", e.Message, e.Offset+1) }

// Expression is an expression, ready to run. It does not change and may be used by
// many goroutines.
type Expression struct {
	source  string
	program *vm.Program
	kind    reflect.Kind
	uses    []string
	results []Result
}

// A Result is one thing that an expression may come to: it has several where it chooses, or
// puts texts together.
type Result struct {
	Function string   // the function whose answer it is; "" for anything else
	Values   []string // the values that are used in it
	Calls    []string // the functions that are called in it
	Literal  bool     // whether it is a text or a number that is written out
	Written  string   // which one
}

// Results lists what the expression may come to.
func (e *Expression) Results() []Result { return e.results }

// Uses lists the values, not the functions, that the expression names.
func (e *Expression) Uses() []string { return e.uses }

// Sample is a value of the type that the expression gives.
func (e *Expression) Sample() any {
	switch e.kind {
	case reflect.String:
		return ""
	case reflect.Bool:
		return false
	}
	return 0.0
}

// Compile checks an expression whole. It may compute (+ - *, and / by a number that
// is written out), compare, join with and, or, not, choose with ? :, and call the
// functions of the language, min, max, abs and round. The error is an
// *ExpressionError.
func (l *Language) Compile(source string) (*Expression, error) {
	if e, done := l.compiled.Load(source); done {
		return e.(*Expression), nil
	}
	e, err := l.compile(source)
	if err == nil {
		l.compiled.Store(source, e)
	}
	return e, err
}

func (l *Language) compile(source string) (*Expression, error) {
	if n := utf8.RuneCountInString(source); n > maxCondition {
		return nil, &ExpressionError{0, fmt.Sprintf("it has %d characters; at most %d are read", n, maxCondition)}
	}
	tree, err := parser.Parse(source)
	if err != nil {
		return nil, expressionError(source, err)
	}
	r := &reckoner{language: l}
	r.check(tree.Node)
	if r.fault != nil {
		return nil, r.fault
	}
	program, err := expr.Compile(
		source, expr.Env(l.names), expr.DisableAllBuiltins(),
		expr.EnableBuiltin("min"), expr.EnableBuiltin("max"), expr.EnableBuiltin("abs"), expr.EnableBuiltin("round"),
		expr.MaxNodes(maxNodes), expr.Patch(decimals{}),
	)
	if err != nil {
		return nil, expressionError(source, err)
	}
	kind := program.Node().Type().Kind()
	switch kind {
	case reflect.Float64, reflect.Int:
		kind = reflect.Float64
	case reflect.String, reflect.Bool:
	default:
		return nil, &ExpressionError{0, "it gives neither a number nor a text nor yes or no"}
	}
	return &Expression{source, program, kind, r.uses, r.results(tree.Node, kind)}, nil
}

func expressionError(source string, err error) *ExpressionError {
	f := asFault(source, err)
	return &ExpressionError{f.offset, f.message}
}

// Run gives the value of the expression: a finite float64, a string or a bool. The
// values are those named to [Language.With].
func (e *Expression) Run(values Values) (any, error) {
	got, err := expr.Run(e.program, map[string]any(values))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", e.source, plainly(err))
	}
	switch v := got.(type) {
	case int:
		return float64(v), nil
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("%s: the result is no number", e.source)
		}
		return v, nil
	case string, bool:
		return v, nil
	}
	return nil, fmt.Errorf("%s: the result is neither a number nor a text nor yes or no", e.source)
}

// plainly takes the place within the expression, which is one line, off an error.
func plainly(err error) error {
	if located, ok := errors.AsType[*file.Error](err); ok {
		if located.Prev != nil {
			return located.Prev
		}
		return errors.New(located.Message)
	}
	return err
}

// decimals makes every number of an expression a float64, as the functions and values
// of a language have it: the library parts whole numbers from others, and a choice or a
// max of both has neither type.
type decimals struct{}

// Visit replaces a whole number that is written out.
func (decimals) Visit(n *ast.Node) {
	if whole, ok := (*n).(*ast.IntegerNode); ok {
		ast.Patch(n, &ast.FloatNode{Value: float64(whole.Value)})
	}
}

// A reckoner walks the tree of an expression and lets through only what [Language.
// Compile] lists.
type reckoner struct {
	language *Language
	uses     []string
	fault    *ExpressionError
}

func (r *reckoner) refuse(n ast.Node, format string, args ...any) {
	if r.fault == nil {
		r.fault = &ExpressionError{n.Location().From, fmt.Sprintf(format, args...)}
	}
}

func (r *reckoner) check(n ast.Node) {
	switch v := n.(type) {
	case *ast.IntegerNode, *ast.FloatNode, *ast.StringNode, *ast.BoolNode:
	case *ast.IdentifierNode:
		sample, known := r.language.names[v.Value]
		switch {
		case !known:
			r.refuse(n, "there is no %s%s", v.Value, insteadOf(v.Value, slices.Sorted(maps.Keys(r.language.names))))
		case reflect.TypeOf(sample).Kind() == reflect.Func:
			r.refuse(n, "%s is a function: give it its values in brackets", v.Value)
		case !slices.Contains(r.uses, v.Value):
			r.uses = append(r.uses, v.Value)
		}
	case *ast.UnaryNode:
		r.check(v.Node)
	case *ast.BinaryNode:
		r.binary(v)
	case *ast.ConditionalNode:
		r.check(v.Cond)
		r.check(v.Exp1)
		r.check(v.Exp2)
	case *ast.BuiltinNode:
		if !slices.Contains([]string{"min", "max", "abs", "round"}, v.Name) {
			r.refuse(n, "%s is not used here", v.Name)
			return
		}
		r.all(v.Arguments)
	case *ast.CallNode:
		name, ok := v.Callee.(*ast.IdentifierNode)
		if !ok {
			r.refuse(n, "only functions can be called")
			return
		}
		if sample, known := r.language.names[name.Value]; !known || reflect.TypeOf(sample).Kind() != reflect.Func {
			r.refuse(n, "there is no function %s%s", name.Value, insteadOf(name.Value, slices.Sorted(maps.Keys(r.language.names))))
			return
		}
		r.all(v.Arguments)
	case *ast.ArrayNode:
		r.all(v.Nodes)
	case *ast.MapNode:
		r.all(v.Pairs)
	case *ast.PairNode:
		if _, ok := v.Key.(*ast.StringNode); !ok {
			r.refuse(n, "a key is a word, such as \"food\"")
			return
		}
		r.check(v.Value)
	default:
		r.refuse(n, "this cannot be used in an expression")
	}
}

func (r *reckoner) all(nodes []ast.Node) {
	for _, n := range nodes {
		r.check(n)
	}
}

func (r *reckoner) binary(n *ast.BinaryNode) {
	switch n.Operator {
	case "+", "-", "*", "==", "!=", "<", "<=", ">", ">=", "and", "&&", "or", "||", "in":
	case "/":
		// What is not written out may be zero, and the library divides by zero.
		if !isNumber(n.Right) {
			r.refuse(n, "divide only by a number that is written out and is not 0")
			return
		}
	default:
		r.refuse(n, "%s is not used here", n.Operator)
		return
	}
	r.check(n.Left)
	r.check(n.Right)
}

func isNumber(n ast.Node) bool {
	switch v := n.(type) {
	case *ast.IntegerNode:
		return v.Value != 0
	case *ast.FloatNode:
		return v.Value != 0
	}
	return false
}

// results takes an expression apart where it chooses and where it puts texts together.
func (r *reckoner) results(n ast.Node, kind reflect.Kind) []Result {
	switch v := n.(type) {
	case *ast.ConditionalNode:
		return append(r.results(v.Exp1, kind), r.results(v.Exp2, kind)...)
	case *ast.BinaryNode:
		if v.Operator == "+" && kind == reflect.String { // numbers are added up to one
			return append(r.results(v.Left, kind), r.results(v.Right, kind)...)
		}
	}
	var result Result
	switch v := n.(type) {
	case *ast.StringNode:
		result.Literal, result.Written = true, v.Value
	case *ast.IntegerNode:
		result.Literal, result.Written = true, strconv.Itoa(v.Value)
	case *ast.FloatNode:
		result.Literal, result.Written = true, strconv.FormatFloat(v.Value, 'f', -1, 64)
	case *ast.CallNode:
		result.Function = v.Callee.(*ast.IdentifierNode).Value // nothing else passes check
	}
	ast.Walk(&n, named{r.language, &result})
	return []Result{result}
}

// named notes the names in a part of an expression.
type named struct {
	language *Language
	in       *Result
}

// Visit notes one name.
func (v named) Visit(n *ast.Node) {
	name, ok := (*n).(*ast.IdentifierNode)
	switch {
	case !ok:
	case reflect.TypeOf(v.language.names[name.Value]).Kind() == reflect.Func:
		v.in.Calls = append(v.in.Calls, name.Value)
	default:
		v.in.Values = append(v.in.Values, name.Value)
	}
}
