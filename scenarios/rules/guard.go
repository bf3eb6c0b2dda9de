package rules

import (
	"fmt"
	"slices"

	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/file"
)

// A fault is one mistake in a condition.
type fault struct {
	offset  int // in characters from the start of the condition
	message string
}

// A guard walks the tree of a condition and lets through only what the package
// comment lists. It works by what is allowed, so that a construct the library
// gains later is refused until somebody has thought about it.
type guard struct {
	catalog *catalog
	used    []int // indices of the facts named
	element *fact // the list that # stands for an item of, nil outside any and all
	faults  []fault
}

func (g *guard) fault(at file.Location, format string, args ...any) {
	g.faults = append(g.faults, fault{at.From, fmt.Sprintf(format, args...)})
}

// condition checks a part that must answer yes or no.
func (g *guard) condition(n ast.Node) {
	switch v := n.(type) {
	case *ast.IdentifierNode:
		if f := g.fact(v); f != nil && f.kind != yesNo {
			g.fault(v.Location(), "%s is %s: it cannot stand alone, compare it", f.name, f.kind)
		}
	case *ast.UnaryNode:
		if v.Operator != "not" && v.Operator != "!" {
			g.refuse(n)
			return
		}
		g.condition(v.Node)
	case *ast.BinaryNode:
		switch v.Operator {
		case "and", "&&", "or", "||":
			g.condition(v.Left)
			g.condition(v.Right)
		case "==", "!=":
			g.equality(v)
		case "<", "<=", ">", ">=":
			g.order(v)
		case "in":
			g.membership(v)
		default:
			g.refuse(n)
		}
	case *ast.BuiltinNode:
		if v.Name != "any" && v.Name != "all" {
			g.refuse(n)
			return
		}
		g.quantifier(v)
	case *ast.StringNode, *ast.PointerNode:
		g.fault(n.Location(), "a word cannot stand alone: compare it")
	default:
		g.refuse(n)
	}
}

// An operand is one side of a comparison.
type operand struct {
	at      file.Location
	kind    kind
	fact    *fact  // what it was read from, nil for a literal
	literal string // the word written out
}

// operand reads one side of a comparison; ok is false when it was refused.
func (g *guard) operand(n ast.Node) (o operand, ok bool) {
	o.at = n.Location()
	switch v := n.(type) {
	case *ast.IdentifierNode:
		if o.fact = g.fact(v); o.fact == nil {
			return o, false
		}
		o.kind = o.fact.kind
	case *ast.StringNode:
		o.kind, o.literal = word, v.Value
	case *ast.PointerNode:
		if v.Name != "" || g.element == nil {
			g.fault(o.at, "#%s is not allowed: # is an item of the list", v.Name)
			return o, false
		}
		o.kind, o.fact = word, g.element
	case *ast.IntegerNode:
		if v.Value != 0 {
			g.refuse(n)
			return o, false
		}
		o.kind = number
	case *ast.BuiltinNode:
		if v.Name != "len" {
			g.refuse(n)
			return o, false
		}
		if len(v.Arguments) != 1 {
			g.fault(o.at, "len needs one list")
			return o, false
		}
		o.kind, o.fact = number, g.list(v.Arguments[0], "len")
		return o, o.fact != nil
	default:
		g.refuse(n)
		return o, false
	}
	return o, true
}

// sides reads both sides of a comparison, of which one at least must be a fact.
func (g *guard) sides(n *ast.BinaryNode) (left, right operand, ok bool) {
	left, leftOK := g.operand(n.Left)
	right, rightOK := g.operand(n.Right)
	switch {
	case !leftOK || !rightOK:
		return left, right, false
	case left.fact == nil && right.fact == nil:
		g.fault(n.Location(), "nothing here depends on the plan: compare a fact")
		return left, right, false
	case left.kind != right.kind:
		g.fault(n.Location(), "%s compares %s with %s", n.Operator, left.kind, right.kind)
		return left, right, false
	}
	return left, right, true
}

func (g *guard) equality(n *ast.BinaryNode) {
	left, right, ok := g.sides(n)
	switch {
	case !ok:
	case left.kind == list:
		g.fault(n.Location(), "%s cannot compare lists: use in, any, all or len", n.Operator)
	case left.kind != word:
	case left.fact == nil:
		g.word(right.fact, left.literal, left.at)
	case right.fact == nil:
		g.word(left.fact, right.literal, right.at)
	case !slices.ContainsFunc(left.fact.words, func(w string) bool { return slices.Contains(right.fact.words, w) }):
		g.fault(n.Location(), "%s and %s have no word in common", left.fact.name, right.fact.name)
	}
}

func (g *guard) order(n *ast.BinaryNode) {
	if left, _, ok := g.sides(n); ok && left.kind != number {
		g.fault(n.Location(), "%s needs numbers, this is %s", n.Operator, left.kind)
	}
}

// membership checks word in ["a", "b"] and word in list.
func (g *guard) membership(n *ast.BinaryNode) {
	left, ok := g.operand(n.Left)
	if !ok {
		return
	}
	if left.kind != word {
		g.fault(n.Location(), "in needs a word on its left, this is %s", left.kind)
		return
	}
	written, isArray := n.Right.(*ast.ArrayNode)
	if !isArray {
		f := g.list(n.Right, "in")
		switch {
		case f == nil:
		case left.fact == nil:
			g.word(f, left.literal, left.at)
		case !slices.ContainsFunc(left.fact.words, func(w string) bool { return slices.Contains(f.words, w) }):
			g.fault(n.Location(), "%s and %s have no word in common", left.fact.name, f.name)
		}
		return
	}
	if left.fact == nil {
		g.fault(n.Location(), "nothing here depends on the plan: put a fact on the left of in")
		return
	}
	if len(written.Nodes) == 0 {
		g.fault(written.Location(), "the list is empty")
	}
	var words []string
	for _, item := range written.Nodes {
		w, isWord := item.(*ast.StringNode)
		switch {
		case !isWord:
			g.fault(item.Location(), "only words in quotes may stand in a list")
		case slices.Contains(words, w.Value):
			g.fault(item.Location(), "%q stands in the list twice", w.Value)
		default:
			g.word(left.fact, w.Value, item.Location())
			words = append(words, w.Value)
		}
	}
}

// quantifier checks any(list, ...) and all(list, ...).
func (g *guard) quantifier(n *ast.BuiltinNode) {
	if g.element != nil {
		g.fault(n.Location(), "%s within any or all is not allowed: # would be unclear", n.Name)
		return
	}
	f := g.list(n.Arguments[0], n.Name)
	predicate, ok := n.Arguments[1].(*ast.PredicateNode)
	if f == nil || !ok {
		return
	}
	g.element = f
	g.condition(predicate.Node)
	g.element = nil
}

// fact finds the fact that a name stands for, and notes that it is used.
func (g *guard) fact(n *ast.IdentifierNode) *fact {
	i := g.catalog.index(n.Value)
	if i < 0 {
		if n.Value == "$env" {
			g.fault(n.Location(), "$env is not allowed: name the fact itself")
			return nil
		}
		g.fault(n.Location(), "there is no fact %q%s", n.Value, insteadOf(n.Value, g.catalog.names()))
		return nil
	}
	if !slices.Contains(g.used, i) {
		g.used = append(g.used, i)
	}
	return &g.catalog.facts[i]
}

// list finds the list fact that an argument names.
func (g *guard) list(n ast.Node, user string) *fact {
	name, ok := n.(*ast.IdentifierNode)
	if !ok {
		g.fault(n.Location(), "%s needs the name of a list", user)
		return nil
	}
	f := g.fact(name)
	if f != nil && f.kind != list {
		g.fault(n.Location(), "%s needs a list; %s is %s", user, f.name, f.kind)
		return nil
	}
	return f
}

// word checks a word written beside a fact. The empty word asks whether the fact
// is stated at all, which only a single word can be left without.
func (g *guard) word(f *fact, w string, at file.Location) {
	switch {
	case w == "" && f.kind == word:
	case f.words == nil:
		g.fault(at, "%s has no list of words, so a misspelt %q would never be noticed: make a yes-or-no fact of it", f.name, w)
	case !slices.Contains(f.words, w):
		g.fault(at, "%s has no word %q%s", f.name, w, insteadOf(w, f.words))
	}
}

// refuse says why a construct is not allowed and what to write instead.
func (g *guard) refuse(n ast.Node) {
	at := n.Location()
	message := "only facts, words, and, or, not, comparisons, in, any, all and len are allowed here"
	switch v := n.(type) {
	case *ast.IntegerNode, *ast.FloatNode:
		message = fmt.Sprintf("the number %s is not allowed: a threshold is a fact with a source, only 0 may be written", n)
	case *ast.BoolNode:
		message = fmt.Sprintf("%t is not needed: write the fact, or not and the fact", v.Value)
	case *ast.NilNode:
		message = "nil is not allowed: no fact is nil; for a word, \"\" means not stated"
	case *ast.UnaryNode:
		message = fmt.Sprintf("operator %s is not allowed: arithmetic belongs in a fact", v.Operator)
		if v.Operator == "not" || v.Operator == "!" {
			message = fmt.Sprintf("%s holds only for the name after it: write not in, != or not (...)", v.Operator)
		}
	case *ast.BinaryNode:
		message = fmt.Sprintf("operator %s is not allowed here", v.Operator)
		if slices.Contains([]string{"+", "-", "*", "/", "%", "**", "^"}, v.Operator) {
			message = fmt.Sprintf("operator %s is not allowed: arithmetic belongs in a fact", v.Operator)
		}
	case *ast.MemberNode, *ast.ChainNode, *ast.SliceNode:
		message = ". and [ ] are not allowed: name the fact itself, and use any, all or in for a list"
	case *ast.ConditionalNode:
		at = v.Cond.Location() // its own is where it ends, or nowhere
		message = "if and ? are not allowed: use and, or, or write two rules"
	case *ast.BuiltinNode:
		message = fmt.Sprintf("%s is not allowed here: there are any, all and len", v.Name)
	case *ast.CallNode:
		message = fmt.Sprintf("%s(...) is not allowed: there are any, all and len", v.Callee)
	case *ast.VariableDeclaratorNode, *ast.SequenceNode:
		message = "let and ; are not allowed: write one condition"
	case *ast.ArrayNode, *ast.MapNode:
		message = "a list may stand only on the right of in; a map nowhere"
	}
	g.fault(at, "%s", message)
}
