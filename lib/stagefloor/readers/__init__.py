"""What each reader of the documents is given: one record and one set of pages a reader, and nothing else."""
