"""Wind, its words and tables, and the leeway that it gives a boat."""
