package main

import "wetdown/api/store"

type restoreCmd struct {
	databaseFlag
	File    string `arg:"" name:"FILE" help:"A file made by wetdown backup."`
	Replace bool   `help:"Lose what the database holds. Without this, only an empty database is filled."`
}

// Help says more than one line.
func (*restoreCmd) Help() string {
	return `The file is read through first, and what was put back is looked at before it counts: afterwards the database
holds all of the backup, or what it held before. Stop the service meanwhile, and start it anew.`
}

func (c *restoreCmd) run(s *session) (code int, err error) {
	if s.Out != "" {
		return 0, refuse("restore writes no file: leave -o out")
	}
	rows, err := c.with(s, func(db *store.Store) (int64, error) { return db.Restore(s.ctx, c.File, c.Replace) })
	if err != nil {
		return 0, err
	}
	pg := &page{}
	pg.say("%s is restored: %s.", c.File, count(int(rows), "row"))
	return s.report(true, wireBackup{c.File, rows}, pg)
}
