"""What comes into a job from outside and goes out as a file: phone sheets, tables. Everything read here is hostile."""
