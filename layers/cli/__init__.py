"""The `seabed` command: one thin file a command."""
