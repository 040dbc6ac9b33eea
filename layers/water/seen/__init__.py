"""The current of a day, corrected by what is seen of it."""
