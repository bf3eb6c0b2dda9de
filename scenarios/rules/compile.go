package rules

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/vm"
)

// maxCondition bounds the length of a condition in bytes, and so how deep the
// expression parser can be led.
const maxCondition = 1000

// conditionError is a problem inside a condition, with its place in it.
type conditionError struct {
	column  int // 0-based
	message string
}

func (e *conditionError) Error() string { return e.message }

// compile checks one condition and makes it ready to run.
func (l *loader) compile(condition string) (*vm.Program, []*conditionError) {
	if len(condition) > maxCondition {
		return nil, []*conditionError{{0, fmt.Sprintf("a condition of %d characters; write it in at most %d", len(condition), maxCondition)}}
	}
	if depth := strings.Count(condition, "(") + strings.Count(condition, "[") + strings.Count(condition, "not ") + strings.Count(condition, "!"); depth > 60 {
		return nil, []*conditionError{{0, "too deeply nested to be read; write it in simpler parts"}}
	}
	guard := &guard{words: l.options.Words}
	program, err := expr.Compile(condition,
		expr.Env(reflect.New(reflect.TypeOf(l.options.Facts)).Elem().Interface()),
		expr.AsBool(),
		expr.WarnOnAny(),
		expr.DisableAllBuiltins(),
		expr.EnableBuiltin("any"), expr.EnableBuiltin("all"), expr.EnableBuiltin("none"),
		expr.MaxNodes(200),
		expr.Patch(guard),
	)
	problems := guard.problems
	if err != nil {
		problems = append(problems, l.explain(err))
	}
	if len(problems) > 0 {
		return nil, problems
	}
	return program, nil
}

// explain turns the library's error into ours: the place, and for an unknown
// name the nearest fact.
func (l *loader) explain(err error) *conditionError {
	var at *file.Error
	if !errors.As(err, &at) {
		return &conditionError{0, err.Error()}
	}
	message := at.Message
	if name, ok := strings.CutPrefix(message, "unknown name "); ok {
		message = fmt.Sprintf("there is no fact %q", name)
		var names []string
		for _, d := range l.set.facts {
			names = append(names, d.Name)
		}
		if near := nearest(name, names); near != "" {
			message += fmt.Sprintf("; the nearest is %q", near)
		}
	}
	return &conditionError{at.Column, message}
}

// guard refuses what the expression language allows but a condition must not
// hold, and words that a fact cannot have.
type guard struct {
	words    map[string][]string
	problems []*conditionError
}

func (g *guard) refuse(n ast.Node, format string, args ...any) {
	p := &conditionError{n.Location().From, fmt.Sprintf(format, args...)}
	for _, old := range g.problems {
		if *old == *p { // the library may visit a tree more than once
			return
		}
	}
	g.problems = append(g.problems, p)
}

// Visit is called for every part of the condition.
func (g *guard) Visit(node *ast.Node) {
	switch n := (*node).(type) {
	case *ast.BinaryNode:
		switch n.Operator {
		case "and", "&&", "or", "||", "<", "<=", ">", ">=":
		case "==", "!=", "in":
			g.compared(n.Left, n.Right)
			g.compared(n.Right, n.Left)
		default:
			g.refuse(n, "operator %s is not allowed in a condition; have it looked up as a fact", n.Operator)
		}
	case *ast.UnaryNode:
		if n.Operator != "not" && n.Operator != "!" {
			g.refuse(n, "operator %s is not allowed in a condition", n.Operator)
		}
	case *ast.IdentifierNode:
		if n.Value == "$env" {
			g.refuse(n, "$env is not allowed in a condition; name the fact")
		}
	case *ast.FloatNode:
		g.refuse(n, "a number is not allowed in a condition; a limit is a fact with a source")
	case *ast.ConditionalNode, *ast.MapNode, *ast.CallNode, *ast.SliceNode, *ast.ChainNode, *ast.VariableDeclaratorNode, *ast.SequenceNode, *ast.NilNode:
		g.refuse(n, "only facts, words, and, or, not, comparisons and any, all, none are allowed in a condition")
	case *ast.MemberNode:
		if _, list := n.Node.(*ast.IdentifierNode); !list {
			g.refuse(n, "only a fact that is a list has elements")
		}
		if _, number := n.Property.(*ast.IntegerNode); !number {
			g.refuse(n, "an element is named by its number")
		}
		return
	case *ast.IntegerNode:
		// Allowed only as the index of a list, which MemberNode has checked; the
		// type checker has no other use for one, since < and == with a number
		// are refused in compared and below.
	case *ast.BuiltinNode:
		if len(n.Arguments) > 0 {
			if list, ok := n.Arguments[0].(*ast.IdentifierNode); ok {
				g.elements(list.Value, n.Arguments[1:])
			}
		}
	}
	if n, ok := (*node).(*ast.BinaryNode); ok {
		for _, side := range []ast.Node{n.Left, n.Right} {
			if number, ok := side.(*ast.IntegerNode); ok {
				g.refuse(number, "a number is not allowed in a condition; a limit is a fact with a source")
			}
		}
	}
}

// compared checks the words that a fact is compared with.
func (g *guard) compared(fact, other ast.Node) {
	name, ok := fact.(*ast.IdentifierNode)
	if !ok {
		return
	}
	if words, limited := g.words[name.Value]; limited {
		g.check(name.Value, words, other)
	}
}

// elements checks the words that a list's elements are compared with inside
// any, all or none.
func (g *guard) elements(list string, predicates []ast.Node) {
	words, limited := g.words[list]
	if !limited {
		return
	}
	for _, p := range predicates {
		ast.Walk(&p, elementVisitor(func(n *ast.BinaryNode) {
			if _, element := n.Left.(*ast.PointerNode); element {
				g.check(list, words, n.Right)
			}
			if _, element := n.Right.(*ast.PointerNode); element {
				g.check(list, words, n.Left)
			}
		}))
	}
}

type elementVisitor func(*ast.BinaryNode)

func (v elementVisitor) Visit(node *ast.Node) {
	if n, ok := (*node).(*ast.BinaryNode); ok {
		v(n)
	}
}

func (g *guard) check(fact string, words []string, other ast.Node) {
	switch n := other.(type) {
	case *ast.StringNode:
		if n.Value == "" || slices.Contains(words, n.Value) { // "" is: not stated
			return
		}
		if near := nearest(n.Value, words); near != "" {
			g.refuse(n, "%s cannot be %q; the nearest word is %q", fact, n.Value, near)
		} else {
			g.refuse(n, "%s cannot be %q; it is one of %s", fact, n.Value, strings.Join(words, " "))
		}
	case *ast.ArrayNode:
		for _, element := range n.Nodes {
			if _, word := element.(*ast.StringNode); !word {
				g.refuse(element, "%s is compared with words only", fact)
				continue
			}
			g.check(fact, words, element)
		}
	}
}
