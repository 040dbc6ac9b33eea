"""What files are, and what is wrong with them: a reader for each kind."""
