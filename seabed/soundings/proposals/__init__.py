"""Lines to sound next."""
