package scenarios

import "testing"

// TestShippedDisagreements: the shipped rules tell what their sources differ
// about. The sources themselves are checked on loading.
func TestShippedDisagreements(t *testing.T) {
	t.Parallel()
	set := shipped(t).Rules()
	if n := len(set.Disagreements()); n < 15 {
		t.Errorf("%d disagreements, want 15 or more", n)
	}
	for _, d := range set.Disagreements() {
		said := map[string]bool{}
		for _, r := range d.Readings {
			if said[r.Says] {
				t.Errorf("%s: two readings say the same: %s", d.ID, r.Says)
			}
			said[r.Says] = true
		}
	}
}
