package rules

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"unicode/utf8"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"
	"github.com/expr-lang/expr/vm"
)

const (
	// maxCondition bounds a condition, in characters, before it is parsed.
	maxCondition = 2000
	// maxNodes bounds the parts of a condition.
	maxNodes = 200
)

// A condition is what a rule asks, ready to run.
type condition struct {
	program *vm.Program
	uses    []int  // indices of the facts it names
	needs   []need // without any of these it is false
}

// A need is a yes-or-no fact that must have a value for a condition to be true.
type need struct {
	field int // index in the struct
	value bool
}

// compile checks a condition and turns it into a program, or gives all the
// faults that were found.
func (c *catalog) compile(source string) (condition, []fault) {
	if n := utf8.RuneCountInString(source); n > maxCondition {
		return condition{}, []fault{{0, fmt.Sprintf("the condition has %d characters; at most %d are read", n, maxCondition)}}
	}
	tree, err := parser.Parse(source)
	if err != nil {
		return condition{}, []fault{asFault(source, err)}
	}
	g := &guard{catalog: c}
	g.condition(tree.Node)
	if len(g.faults) > 0 {
		return condition{}, g.faults
	}
	// The library checks the types once more. Every option closes something that
	// the guard has already refused, so that neither stands alone.
	program, err := expr.Compile(
		source,
		expr.Env(reflect.Zero(c.structType).Interface()), // names and types; no map, whose missing keys would be zero
		expr.AsBool(),
		expr.WarnOnAny(), // no result of unknown type, as of a mixed ternary
		expr.DisableAllBuiltins(),
		expr.EnableBuiltin("any"), expr.EnableBuiltin("all"), expr.EnableBuiltin("len"),
		expr.MaxNodes(maxNodes),
	)
	if err != nil {
		return condition{}, []fault{asFault(source, err)}
	}
	return condition{program: program, uses: g.used, needs: c.needs(tree.Node)}, nil
}

// needs collects the facts that stand alone, or after not, among the terms that
// and joins at the top of a condition that the guard has let through.
func (c *catalog) needs(n ast.Node) []need {
	switch v := n.(type) {
	case *ast.IdentifierNode:
		return []need{{c.facts[c.index(v.Value)].field, true}}
	case *ast.UnaryNode:
		if name, ok := v.Node.(*ast.IdentifierNode); ok {
			return []need{{c.facts[c.index(name.Value)].field, false}}
		}
	case *ast.BinaryNode:
		if v.Operator == "and" || v.Operator == "&&" {
			return append(c.needs(v.Left), c.needs(v.Right)...)
		}
	}
	return nil
}

// asFault takes place and message from the library's error, and puts the
// messages that describe a slip least well in other words.
func asFault(source string, err error) fault {
	f := fault{message: "not readable as a condition: " + err.Error()}
	if located, ok := errors.AsType[*file.Error](err); ok {
		f.offset, f.message = located.From, "not readable as a condition: "+located.Message
	}
	runes := []rune(source)
	switch {
	case strings.Contains(f.message, "maximum allowed nodes"):
		f.message = fmt.Sprintf("the condition has more than %d parts: make facts of some", maxNodes)
	case f.offset >= len(runes) || strings.HasSuffix(f.message, "unexpected token EOF"):
		f.offset, f.message = len(runes), "the condition stops too early"
	case runes[f.offset] == '=':
		f.message = "= does not compare: write =="
	}
	return f
}
