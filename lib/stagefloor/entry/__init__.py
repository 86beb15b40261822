"""What a person types into and looks at: widgets, a module a step, and how a job opens. Does no sums."""
