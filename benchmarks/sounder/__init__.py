"""Own soundings: their accuracy, and what reading and gridding them costs."""
