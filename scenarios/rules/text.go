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
	plain    string             // the whole text when nothing is filled in
	template *template.Template // nil when nothing is filled in
}

// textFunctions lists the built-in functions a text may use. Comparisons are not
// among them: a text that judges would be a rule without examples.
var textFunctions = []string{"and", "or", "not", "printf"}

// newText parses a text, checks every name in it against the facts struct and
// writes it once.
func (c *catalog) newText(source string) (text, error) {
	if !strings.Contains(source, "{{") {
		return text{plain: source}, nil
	}
	parsed, err := template.New("text").Option("missingkey=error").Parse(source)
	if err != nil {
		return text{}, bare(err)
	}
	if len(parsed.Templates()) > 1 || parsed.Tree == nil {
		return text{}, errors.New("define is not allowed in a text")
	}
	if err := c.checkNodes(parsed.Root); err != nil {
		return text{}, err
	}
	t := text{template: parsed}
	sample, err := t.write(c.sample.Interface())
	if err != nil {
		return text{}, err
	}
	if i := strings.Index(sample, "%!"); i >= 0 {
		return text{}, fmt.Errorf("printf and its values do not fit: %q", sample[i:])
	}
	return t, nil
}

// write fills in the facts, given as a pointer to the struct.
func (t text) write(facts any) (string, error) {
	if t.template == nil {
		return t.plain, nil
	}
	var b strings.Builder
	if err := t.template.Execute(&b, facts); err != nil {
		return "", bare(err)
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
