"""What a job is: records a module a step, edits, the one file that holds it, its history."""
