"""The command.  Each module imports what it needs inside its function, so that help is quick."""
