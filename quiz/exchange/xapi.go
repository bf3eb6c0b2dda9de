package exchange

import (
	"crypto/sha1"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"
)

// The verbs that are used (ADL vocabulary).
var (
	Answered    = Verb{"http://adlnet.gov/expapi/verbs/answered", english("answered")}
	Attempted   = Verb{"http://adlnet.gov/expapi/verbs/attempted", english("attempted")}
	Completed   = Verb{"http://adlnet.gov/expapi/verbs/completed", english("completed")}
	Passed      = Verb{"http://adlnet.gov/expapi/verbs/passed", english("passed")}
	Failed      = Verb{"http://adlnet.gov/expapi/verbs/failed", english("failed")}
	Experienced = Verb{"http://adlnet.gov/expapi/verbs/experienced", english("experienced")}
)

// Statement is an xAPI statement (IEEE 9274.1.1, section 4.2; xAPI 1.0.3 Data, section
// 2). Only what this course says is in these types; [ValidateStatement] knows the rest.
type Statement struct {
	ID        string   `json:"id"`
	Actor     Actor    `json:"actor"`
	Verb      Verb     `json:"verb"`
	Object    Activity `json:"object"`
	Result    *Result  `json:"result,omitempty"`
	Context   *Context `json:"context,omitempty"`
	Timestamp string   `json:"timestamp"` // RFC 3339
}

// Actor is a learner, known by an account alone.
type Actor struct {
	ObjectType string  `json:"objectType"` // Agent
	Account    Account `json:"account"`
}

// Account is an opaque id, and the address of the place where it means somebody.
type Account struct {
	HomePage string `json:"homePage"`
	Name     string `json:"name"`
}

// Verb is what was done.
type Verb struct {
	ID      string      `json:"id"`
	Display LanguageMap `json:"display"`
}

// LanguageMap is one text in several languages, by RFC 5646 tag.
type LanguageMap map[string]string

func english(text string) LanguageMap { return LanguageMap{"en-US": text} }

// Activity is what it was done to.
type Activity struct {
	ObjectType string      `json:"objectType"` // Activity
	ID         string      `json:"id"`
	Definition *Definition `json:"definition,omitempty"`
}

// Definition describes an activity. The last five parts belong to interactions.
type Definition struct {
	Name        LanguageMap `json:"name,omitempty"`
	Description LanguageMap `json:"description,omitempty"`
	Type        string      `json:"type"`

	InteractionType         string      `json:"interactionType,omitempty"`
	CorrectResponsesPattern []string    `json:"correctResponsesPattern,omitempty"`
	Choices                 []Component `json:"choices,omitempty"`
	Source                  []Component `json:"source,omitempty"`
	Target                  []Component `json:"target,omitempty"`
}

// Component is something that an interaction offers.
type Component struct {
	ID          string      `json:"id"`
	Description LanguageMap `json:"description"`
}

// Result is how it went.
type Result struct {
	Score      *Score         `json:"score,omitempty"`
	Success    *bool          `json:"success,omitempty"`
	Completion *bool          `json:"completion,omitempty"`
	Response   string         `json:"response,omitempty"`
	Duration   string         `json:"duration,omitempty"` // ISO 8601
	Extensions map[string]any `json:"extensions,omitempty"`
}

// Score is how well it went. Scaled is from -1 to 1, Raw from Min to Max.
type Score struct {
	Scaled float64 `json:"scaled"`
	Raw    float64 `json:"raw"`
	Min    float64 `json:"min"`
	Max    float64 `json:"max"`
}

// Context is what it belonged to.
type Context struct {
	ContextActivities ContextActivities `json:"contextActivities"`
	Language          string            `json:"language,omitempty"`
}

// ContextActivities are activities that this one is part of.
type ContextActivities struct {
	Parent   []Activity `json:"parent,omitempty"`
	Grouping []Activity `json:"grouping,omitempty"`
}

// Validate tells everything in which the statement breaks the rules of
// [ValidateStatement].
func (s Statement) Validate() error {
	data, err := json.Marshal(s)
	if err != nil {
		return fmt.Errorf("statement %s: %w", s.ID, err) // a number that JSON has not, such as NaN
	}
	return ValidateStatement(data)
}

// WriteStatements writes one statement to a line. One that is not valid is an error,
// and ends the writing.
func WriteStatements(w io.Writer, statements []Statement) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	for _, s := range statements {
		if err := s.Validate(); err != nil {
			return err
		}
		if err := enc.Encode(s); err != nil {
			return err
		}
	}
	return nil
}

// namespaceURL is the namespace of names that are addresses (RFC 9562, section 6.6).
const namespaceURL = "6ba7b811-9dad-11d1-80b4-00c04fd430c8"

// nameUUID makes a UUID from a name, the same one every time (RFC 9562, section 5.5,
// version 5). The namespace is a UUID that this package has written.
func nameUUID(namespace, name string) string {
	space, err := hex.DecodeString(strings.ReplaceAll(namespace, "-", ""))
	if err != nil {
		panic(err)
	}
	sum := sha1.Sum(append(space, name...))
	u := sum[:16]
	u[6] = u[6]&0x0f | 0x50
	u[8] = u[8]&0x3f | 0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", u[:4], u[4:6], u[6:8], u[8:10], u[10:])
}

// isoDuration writes a duration to a hundredth of a second, which is as near as xAPI
// compares them (xAPI 1.0.3 Data, section 4.6).
func isoDuration(d time.Duration) string {
	return "PT" + decimal(float64(d.Round(10*time.Millisecond).Milliseconds())/1000) + "S"
}

// timestamp writes a time in UTC, to the millisecond.
func timestamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }
