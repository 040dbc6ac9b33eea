"""What ``check`` finds out."""
