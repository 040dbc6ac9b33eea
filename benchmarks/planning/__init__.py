"""How well plans hold, what they are worth, and what they cost."""
