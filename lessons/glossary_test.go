package lessons

import "testing"

// The trade writes pH with a small p wherever it stands.
func TestTermHeading(t *testing.T) {
	t.Parallel()
	for term, want := range map[string]string{
		"headspace":  "Headspace",
		"pH":         "pH",
		"pH strip":   "pH strip",
		"USDA guide": "USDA guide",
	} {
		if got := (Term{Term: term}).Heading(); got != want {
			t.Errorf("the heading of %q is %q, want %q", term, got, want)
		}
	}
}
