package rules

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"text/template"
	"text/template/parse"
)

// A text is what a rule tells the learner, with the plan's own values in it.
type text struct {
	parts    []part             // the whole text, when it only fills in words
	template *template.Template // nil when parts are the whole text
}

// A part is a piece of a text: written out, or a string field or method of the
// facts. Most texts are made of such parts alone, and joining them takes a third
// of the time of a template, which looks up every name when it runs.
type part struct {
	source        partSource
	literal       string
	field, method int // index in the struct, or in the methods of its pointer
}

type partSource int

const (
	fromLiteral partSource = iota
	fromField
	fromMethod
)

// textFunctions lists the built-in functions a text may use. Comparisons are not
// among them: a text that judges would be a rule without examples.
var textFunctions = []string{"and", "or", "not", "printf"}

// newText parses a text, checks every name in it against the facts struct and
// writes it once.
func (c *catalog) newText(source string) (text, error) {
	parsed, err := template.New("text").Option("missingkey=error").Parse(source)
	if err != nil {
		return text{}, bare(err)
	}
	if len(parsed.Templates()) > 1 {
		return text{}, errors.New("define is not allowed in a text")
	}
	if err := c.checkNodes(parsed.Root); err != nil {
		return text{}, err
	}
	t := text{template: parsed}
	if parts, ok := c.parts(parsed.Root); ok {
		t = text{parts: parts}
	}
	sample, err := t.write(c.sample.Interface())
	if err != nil {
		return text{}, err
	}
	if i := strings.Index(sample, "%!"); i >= 0 {
		return text{}, fmt.Errorf("printf and its values do not fit: %q", sample[i:])
	}
	return t, nil
}

// parts takes a text apart; ok is false when it needs a template.
func (c *catalog) parts(list *parse.ListNode) (parts []part, ok bool) {
	for _, n := range list.Nodes {
		switch v := n.(type) {
		case *parse.TextNode:
			parts = append(parts, part{literal: string(v.Text)})
		case *parse.ActionNode:
			name, isName := v.Pipe.Cmds[0].Args[0].(*parse.FieldNode)
			if !isName || len(v.Pipe.Cmds) > 1 {
				return nil, false
			}
			p, isString := c.stringPart(name.Ident[0])
			if !isString {
				return nil, false
			}
			parts = append(parts, p)
		default:
			return nil, false
		}
	}
	return parts, true
}

var stringType = reflect.TypeFor[string]()

// stringPart finds the method or field with a name, when it gives a string.
func (c *catalog) stringPart(name string) (p part, ok bool) {
	if m, found := c.sample.Type().MethodByName(name); found {
		gives := m.Type.NumOut() == 1 && m.Type.Out(0) == stringType
		return part{source: fromMethod, method: m.Index}, gives
	}
	f, _ := c.structType.FieldByName(name)
	return part{source: fromField, field: f.Index[0]}, f.Type == stringType
}

// write fills in the facts, given as a pointer to the struct.
func (t text) write(facts any) (written string, err error) {
	var b strings.Builder
	if t.template != nil {
		if err := t.template.Execute(&b, facts); err != nil {
			return "", bare(err)
		}
		return b.String(), nil
	}
	if len(t.parts) == 1 && t.parts[0].source == fromLiteral {
		return t.parts[0].literal, nil
	}
	defer func() { // as a template does
		if p := recover(); p != nil {
			written, err = "", fmt.Errorf("%v", p)
		}
	}()
	v := reflect.ValueOf(facts)
	for _, p := range t.parts {
		switch p.source {
		case fromLiteral:
			b.WriteString(p.literal)
		case fromField:
			b.WriteString(v.Elem().Field(p.field).String())
		case fromMethod:
			b.WriteString(v.Method(p.method).Call(nil)[0].String())
		}
	}
	return b.String(), nil
}

// checkNodes walks both branches of every if, which writing the text once would
// not, and lets through only what the package comment lists.
func (c *catalog) checkNodes(list *parse.ListNode) error {
	if list == nil { // an if without else
		return nil
	}
	var errs []error
	for _, n := range list.Nodes {
		switch v := n.(type) {
		case *parse.TextNode:
		case *parse.ActionNode:
			errs = append(errs, c.checkPipe(v.Pipe))
		case *parse.IfNode:
			errs = append(errs, c.checkPipe(v.Pipe), c.checkNodes(v.List), c.checkNodes(v.ElseList))
		default:
			errs = append(errs, fmt.Errorf("%s is not allowed in a text: there are {{.Name}} and {{if .Name}}", n))
		}
	}
	return errors.Join(errs...)
}

func (c *catalog) checkPipe(pipe *parse.PipeNode) error {
	if len(pipe.Decl) > 0 {
		return fmt.Errorf("%s is not allowed in a text: variables are not used", pipe)
	}
	var errs []error
	for _, command := range pipe.Cmds {
		for i, arg := range command.Args {
			switch v := arg.(type) {
			case *parse.FieldNode:
				switch {
				case len(v.Ident) > 1:
					errs = append(errs, fmt.Errorf("%s is not allowed in a text: one name at a time", v))
				case i == 0 && (len(command.Args) > 1 || len(pipe.Cmds) > 1 && command != pipe.Cmds[0]):
					errs = append(errs, fmt.Errorf("%s takes nothing after it", v))
				default:
					errs = append(errs, c.checkName(v.Ident[0]))
				}
			case *parse.IdentifierNode:
				if !slices.Contains(textFunctions, v.Ident) {
					errs = append(errs, fmt.Errorf("%s is not allowed in a text: there are %s", v, strings.Join(textFunctions, ", ")))
				}
			case *parse.StringNode:
			case *parse.PipeNode:
				errs = append(errs, c.checkPipe(v))
			default:
				errs = append(errs, fmt.Errorf("%s is not allowed in a text: there are {{.Name}} and {{if .Name}}", arg))
			}
		}
	}
	return errors.Join(errs...)
}

// checkName makes sure that a name is a field of the facts struct or a method
// without arguments.
func (c *catalog) checkName(name string) error {
	pointer := c.sample.Type()
	if m, ok := pointer.MethodByName(name); ok {
		if m.Type.NumIn() > 1 {
			return fmt.Errorf(".%s needs arguments, which a text cannot give", name)
		}
		return nil
	}
	if f, ok := c.structType.FieldByName(name); ok && f.IsExported() {
		return nil
	}
	var names []string
	for m := range pointer.Methods() {
		names = append(names, m.Name)
	}
	for _, f := range reflect.VisibleFields(c.structType) {
		if f.IsExported() {
			names = append(names, f.Name)
		}
	}
	return fmt.Errorf("there is no .%s%s", name, insteadOf(name, names))
}

var templatePrefix = regexp.MustCompile(`^template: text:\d+(:\d+)?: (executing "text" at )?`)

// bare drops the template's invented file name from an error.
func bare(err error) error {
	return errors.New(templatePrefix.ReplaceAllString(err.Error(), ""))
}
