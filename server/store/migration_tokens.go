package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"

	"github.com/pressly/goose/v3"
)

const (
	listTokens  = `select token from sessions`
	renameToken = `update sessions set token = ? where token = ?`
)

// hashTokens is migration 5: from here on the session manager keeps only a hash of
// each token, so that whoever reads the file cannot take over a session. SQLite has no
// such hash of its own, hence Go.
var hashTokens = goose.NewGoMigration(5, &goose.GoFunc{RunTx: func(ctx context.Context, tx *sql.Tx) error {
	tokens, err := queryTokens(ctx, tx)
	if err != nil {
		return err
	}
	for _, token := range tokens {
		if _, err := tx.ExecContext(ctx, renameToken, hashed(token), token); err != nil {
			return err
		}
	}
	return nil
}}, nil)

func queryTokens(ctx context.Context, tx *sql.Tx) ([]string, error) {
	rows, err := tx.QueryContext(ctx, listTokens)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []string
	for rows.Next() {
		token, err := scanText(rows)
		if err != nil {
			return nil, err
		}
		all = append(all, token)
	}
	return all, rows.Err()
}

// hashed is a secret as it is kept, and as the session manager hashes its tokens. What
// is hashed is random and long, so a fast hash is enough.
func hashed(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return base64.RawURLEncoding.EncodeToString(sum[:])
}
