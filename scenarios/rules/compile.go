package rules

import (
	"errors"
	"fmt"
	"reflect"
	"strings"
	"unicode/utf8"

	"github.com/expr-lang/expr"
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

// compile checks a condition and turns it into a program. It gives the facts
// the condition names, or all the faults that were found.
func (c *catalog) compile(source string) (program *vm.Program, used []int, faults []fault) {
	if n := utf8.RuneCountInString(source); n > maxCondition {
		return nil, nil, []fault{{0, fmt.Sprintf("the condition has %d characters; at most %d are read", n, maxCondition)}}
	}
	tree, err := parser.Parse(source)
	if err != nil {
		return nil, nil, []fault{asFault(source, err)}
	}
	g := &guard{catalog: c}
	g.condition(tree.Node)
	if len(g.faults) > 0 {
		return nil, nil, g.faults
	}
	// The library checks the types once more. Every option closes something that
	// the guard has already refused, so that neither stands alone.
	program, err = expr.Compile(
		source,
		expr.Env(reflect.Zero(c.structType).Interface()), // names and types; no map, whose missing keys would be zero
		expr.AsBool(),
		expr.WarnOnAny(), // no result of unknown type, as of a mixed ternary
		expr.DisableAllBuiltins(),
		expr.EnableBuiltin("any"), expr.EnableBuiltin("all"), expr.EnableBuiltin("len"),
		expr.MaxNodes(maxNodes),
	)
	if err != nil {
		return nil, nil, []fault{asFault(source, err)}
	}
	return program, g.used, nil
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
