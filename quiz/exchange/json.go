package exchange

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// Format is the value of the key format in JSON files of this version.
const Format = "rollingboil questions 1"

// maxJSON is the most of a JSON file that is read, in bytes.
const maxJSON = 64 << 20

// document is the JSON file.
type document struct {
	Format    string     `json:"format"`
	Title     string     `json:"title"`
	Caution   string     `json:"caution"`
	Questions []Question `json:"questions"`
}

// WriteJSON writes the set with all that is known of each question. Keys always stand
// in the same order.
func WriteJSON(w io.Writer, set Set) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(document{Format, set.Title, Caution, set.Questions})
}

// ReadJSON reads a set that [WriteJSON] has written, or somebody in its format: 64 MB
// at most. Keys that it does not know are refused, and so is a set with a question
// that [Set.Check] finds unfit.
func ReadJSON(r io.Reader) (Set, error) {
	limited := &io.LimitedReader{R: r, N: maxJSON + 1}
	dec := json.NewDecoder(limited)
	dec.DisallowUnknownFields()
	var d document
	err := dec.Decode(&d)
	switch {
	case limited.N <= 0:
		return Set{}, fmt.Errorf("read questions: longer than %d MB; write fewer questions to a file", maxJSON>>20)
	case err != nil:
		return Set{}, fmt.Errorf("read questions: byte %d: %w", dec.InputOffset(), err)
	case d.Format != Format:
		return Set{}, fmt.Errorf("read questions: format is %q; this program reads %q", d.Format, Format)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Set{}, fmt.Errorf("read questions: byte %d: something stands behind the closing brace", dec.InputOffset())
	}
	set := Set{d.Title, d.Questions}
	if err := set.Check(); err != nil {
		return Set{}, fmt.Errorf("read questions: %w", err)
	}
	return set, nil
}
