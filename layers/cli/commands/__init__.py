"""The commands: what each reads on the line."""
