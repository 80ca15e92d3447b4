package inventory

import "database/sql"

// zero reads a column into a plain field; NULL leaves the field alone.
type zero[T any] struct{ to *T }

func orZero[T any](to *T) sql.Scanner { return zero[T]{to} }

// Scan implements sql.Scanner.
func (z zero[T]) Scan(src any) error {
	var v sql.Null[T]
	if err := v.Scan(src); err != nil {
		return err
	}
	if v.Valid {
		*z.to = v.V
	}
	return nil
}
