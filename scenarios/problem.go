package scenarios

import (
	"errors"
	"fmt"
	"strings"
)

// Problem is one thing in a plan or scenario that could not be read, with its
// place and what to write instead.
type Problem struct {
	File      string
	Line, Col int    // 1-based; 0 when the value came from a form
	Key       string // the plan's key, "" when the file as a whole is meant
	Value     string // what was written
	Message   string // what is wrong and what is expected
	Cause     error  // the quantity reader's own error, nil if there is none
}

// Error gives file:line:col: key: message.
func (p *Problem) Error() string {
	var b strings.Builder
	if p.File != "" {
		b.WriteString(p.File + ":")
	}
	if p.Line > 0 {
		fmt.Fprintf(&b, "%d:%d:", p.Line, p.Col)
	}
	if b.Len() > 0 {
		b.WriteByte(' ')
	}
	if p.Key != "" {
		b.WriteString(p.Key + ": ")
	}
	b.WriteString(p.Message)
	return b.String()
}

// Problems lists every Problem joined in err, in order.
func Problems(err error) []*Problem {
	var list []*Problem
	var walk func(error)
	walk = func(e error) {
		switch v := e.(type) {
		case nil:
		case *Problem:
			list = append(list, v)
		case interface{ Unwrap() []error }:
			for _, inner := range v.Unwrap() {
				walk(inner)
			}
		default:
			if inner := errors.Unwrap(e); inner != nil {
				walk(inner)
			}
		}
	}
	walk(err)
	return list
}

// Unwrap gives the cause.
func (p *Problem) Unwrap() error { return p.Cause }

func at(line, col int, format string, args ...any) *Problem {
	return &Problem{Line: line, Col: col, Message: fmt.Sprintf(format, args...)}
}
