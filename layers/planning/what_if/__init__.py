"""What becomes of a plan in other wind, current and tide than those planned with."""
