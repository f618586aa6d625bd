package main

import "time"

const description = "Books customer inspection visits and delivery dates for a plant that builds fire apparatus, keeps them through slips, and says why."

// flags are taken by every command.
type flags struct {
	JSON  bool          `name:"json" help:"Answer in JSON, for machines."`
	AsOf  string        `name:"as-of" placeholder:"DATE" help:"The day from which to plan, in place of the one in the file, at the same time of day; or a moment such as 2027-03-01T06:00."`
	Limit time.Duration `placeholder:"DURATION" help:"Longest time to plan, such as 30s or 5m. The answer then says what is proven and what is not. Default: no limit."`
	Out   string        `name:"output" short:"o" placeholder:"FILE" help:"Write to this file; see the command for what. It is written whole or not at all."`
}

// cli is the command line.
type cli struct {
	flags

	Plan     planCmd     `cmd:"" help:"Make the best plan for a plant file."`
	Slip     slipCmd     `cmd:"" help:"Find the smallest change after a slip: what moves, whom to call, what it costs."`
	Offers   offersCmd   `cmd:"" help:"List the days that can be offered for the visit to a truck."`
	Why      whyCmd      `cmd:"" help:"Say why a visit cannot be on a day, and what would make it possible."`
	Quote    quoteCmd    `cmd:"" help:"Find the delivery day of an order that might come."`
	Worth    worthCmd    `cmd:"" help:"Show whose day hurts most if it is lost next, and what one more bay, head or Saturday would buy."`
	Check    checkCmd    `cmd:"" help:"Have the judge alone look at the plan in a file."`
	Generate generateCmd `cmd:"" help:"Make a random plant file, as large and as busy as wanted."`
	Backtest backtestCmd `cmd:"" help:"Tell how well stated days would have held in a history of slips, and what was on time."`
	Export   exportCmd   `cmd:"" help:"Write the planning question for other solvers."`
	Prove    proveCmd    `cmd:"" help:"Write what others need to check that a plan is right and that none is better."`
	RCPSP    rcpspCmd    `cmd:"" name:"rcpsp" help:"Solve a published project scheduling instance (PSPLIB) with the same engine."`
	Serve    serveCmd    `cmd:"" help:"Keep a plant in a database, and serve people and programs over HTTP."`
	Backup   backupCmd   `cmd:"" help:"Copy all that the service keeps into one file."`
	Restore  restoreCmd  `cmd:"" help:"Put such a copy into a database."`
	Demo     demoCmd     `cmd:"" help:"Show the whole on a demo plant."`
}

// planFile is the argument of commands that read a plant file.
type planFile struct {
	File string `arg:"" name:"FILE" help:"Plant file (YAML or JSON); - reads standard input."`
}
