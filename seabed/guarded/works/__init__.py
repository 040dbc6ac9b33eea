"""What the guarded process does: each library asked, in plain values, nothing of ours beside."""
