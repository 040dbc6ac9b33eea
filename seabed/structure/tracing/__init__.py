"""Lines traced through grids: where they run, how they go on, what lies beside them."""
