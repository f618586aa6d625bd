package main

type exportCmd struct{ planFile }

func (c *exportCmd) run(s *session) (int, error) { return 0, refuse("x") }
