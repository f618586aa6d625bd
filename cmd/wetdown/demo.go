package main

type demoCmd struct{}

func (c *demoCmd) run(s *session) (int, error) { return 0, refuse("x") }
