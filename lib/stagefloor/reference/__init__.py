"""Published tables and common practice, each row with source and status. Knows no job."""
