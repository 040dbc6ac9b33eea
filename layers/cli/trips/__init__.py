"""What ``trip`` and ``season`` compute and write."""
