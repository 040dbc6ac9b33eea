"""The command.  Each module imports what it needs inside its function, so that help is quick."""

DONE, BUG, WRONG, STOPPED = 0, 1, 2, 130
"""Exit codes."""
