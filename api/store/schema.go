package store

import (
	"context"
	"fmt"

	"github.com/pressly/goose/v3"
)

// migrate brings the tables up to date, and refuses those of a newer program.
func (s *Store) migrate(ctx context.Context) error {
	dialect, files, options, err := s.base.migrations()
	if err != nil {
		return err
	}
	options = append(options, goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()))
	provider, err := goose.NewProvider(dialect, s.write, files, options...)
	if err != nil {
		return err
	}
	for try := 1; ; try++ {
		var has, knows int64
		if has, knows, err = provider.GetVersions(ctx); err == nil {
			switch {
			case has > knows:
				return fmt.Errorf("%s was written by a newer wetdown (its tables have version %d, this program knows %d): use that one, or restore a backup to another database", s.base.place(), has, knows)
			case has == knows:
				return nil
			}
			_, err = provider.Up(ctx)
		}
		// Several programs may start at once; where the database has no lock for that, one
		// of them makes the tables and the others find them on the next look.
		if err != nil && try == tries {
			return fmt.Errorf("the tables of %s cannot be brought up to date: %w", s.base.place(), err)
		}
	}
}
