package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"testing"
)

// When this variable names a database, the test program is the other side of
// TestFilesAreSharedWithTheOtherDriver: it does its part and leaves.
const exchangeVariable = "ROLLINGBOIL_STORE_EXCHANGE"

func TestMain(m *testing.M) {
	if path := os.Getenv(exchangeVariable); path != "" {
		if err := exchange(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// exchange checks what the first driver has stored for ada, if anything, and
// adds the sample of ben.
func exchange(path string) error {
	ctx := context.Background()
	s, err := Open(ctx, path)
	if err != nil {
		return err
	}
	if _, err = s.Visitor(ctx, "ada"); err == nil {
		err = sampleOf("ada").check(ctx, s)
	} else if errors.Is(err, ErrNotFound) {
		err = nil
	}
	return errors.Join(err, sampleOf("ben").save(ctx, s), s.Integrity(ctx), s.Close())
}
