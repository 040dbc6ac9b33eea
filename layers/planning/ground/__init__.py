"""Bottom worth fishing: what its shape, the season's catches and the expected fish say."""
