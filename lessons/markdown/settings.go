package markdown

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
)

// PieceSpec says how one piece is written.
type PieceSpec struct {
	Settings map[string]Setting
	// Body is true for a piece whose fence holds Markdown of its own, which
	// then must not be empty. All other pieces have an empty fence.
	Body bool
}

// Setting says what one key=value of a piece may be.
type Setting struct {
	Required bool
	// List allows several values with commas between them.
	List bool
	// Words are the values allowed; empty means any value.
	Words []string
	// Check looks at each value that is not held by Words.
	Check func(value string) error
}

var settingKey = regexp.MustCompile(`^[a-z][a-z0-9-]*$`)

// ParseSettings reads key=value and key="quoted value" settings with spaces
// between them and holds each against the spec. It returns every message, not
// just the first; the values are usable only when there is none.
func ParseSettings(text string, spec PieceSpec) (values map[string]string, messages []string) {
	values = map[string]string{}
	given := map[string]bool{} // also those whose value cannot be read
	complain := func(format string, args ...any) {
		messages = append(messages, fmt.Sprintf(format, args...))
	}
	keys := slices.Sorted(maps.Keys(spec.Settings))

	for rest := strings.TrimSpace(text); rest != ""; rest = strings.TrimSpace(rest) {
		end := strings.IndexAny(rest, " \t=")
		if end < 0 || rest[end] != '=' {
			word, after, _ := strings.Cut(rest, " ")
			complain("%q stands alone; write key=value", word)
			rest = after
			continue
		}
		key := rest[:end]
		value, after, err := cutValue(rest[end+1:])
		rest = after
		setting, known := spec.Settings[key]
		switch {
		case !settingKey.MatchString(key):
			complain("%q is no setting name; use lower-case letters", key)
		case !known && len(keys) == 0:
			complain("unknown setting %q; this piece has none", key)
		case !known:
			complain("unknown setting %q; %s", key, DidYouMean(key, keys))
		case given[key]:
			complain("setting %q stands twice", key)
		default:
			given[key] = true
			values[key] = value
			if err == nil {
				err = setting.check(value)
			}
			if err != nil {
				complain("setting %q: %v", key, err)
			}
		}
	}
	for _, key := range keys {
		if spec.Settings[key].Required && !given[key] {
			complain("setting %q is missing", key)
		}
	}
	return values, messages
}

// cutValue takes one plain or quoted value off the front of the text.
func cutValue(text string) (value, rest string, err error) {
	if !strings.HasPrefix(text, `"`) {
		end := strings.IndexAny(text, " \t")
		if end < 0 {
			end = len(text)
		}
		value, rest = text[:end], text[end:]
		if strings.Contains(value, `"`) {
			return "", rest, fmt.Errorf("a quote stands inside %q; put quotes around the whole value", value)
		}
		if value == "" {
			return "", rest, fmt.Errorf("there is no value after the equals sign")
		}
		return value, rest, nil
	}
	end := strings.Index(text[1:], `"`)
	if end < 0 {
		return "", "", fmt.Errorf("the closing quote is missing")
	}
	value, rest = text[1:1+end], text[end+2:]
	if rest != "" && rest[0] != ' ' && rest[0] != '\t' {
		return "", rest, fmt.Errorf("put a space after the closing quote")
	}
	if strings.TrimSpace(value) == "" {
		return "", rest, fmt.Errorf("the value is empty")
	}
	return value, rest, nil
}

func (s Setting) check(value string) error {
	single := []string{value}
	if s.List {
		single = strings.Split(value, ",")
	}
	for i, v := range single {
		if slices.Contains(single[:i], v) {
			return fmt.Errorf("%q stands twice", v)
		}
		if len(s.Words) > 0 && !slices.Contains(s.Words, v) {
			return fmt.Errorf("unknown word %q; %s", v, DidYouMean(v, s.Words))
		}
		if s.Check != nil {
			if err := s.Check(v); err != nil {
				return err
			}
		}
	}
	return nil
}
