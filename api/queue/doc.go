// Package queue sees to it that jobs are worked on: that App.Work is called for every
// job that is kept. A Local queue works within this process, for a database that no
// other process uses. A Shared one spreads jobs over all processes that work on one
// PostgreSQL database, by River, with tables in a schema of their own.
//
// What is to be done is known from the records of jobs alone. Being told of a job by
// Add is only the fastest way: each queue also sweeps, that is, looks at its start
// and then again and again for jobs that nobody works on, and works on them. So a
// process may die between keeping a job and adding it, and the tables of River may be
// emptied, and nothing is lost.
//
// Work that is begun twice is answered once, and a job whose worker died is taken
// over: both is the doing of App.Work, which gives signs of life while it works. A
// queue may therefore call it too often. In a Shared queue what River runs is a turn of
// a job: when a worker dies, the sweep of any process finds its job without a sign of
// life, and adds its next turn; the row of the last one stays until River tidies
// it away. So how long River waits before it takes a row for stuck does not matter, and
// it waits longer than any job may take: a row that is still worked on is never
// started a second time.
//
// Deliberately absent: what jobs are, their order beyond first come, and retrying
// with a mind of its own: a call that fails is made again by the next sweep.
package queue
