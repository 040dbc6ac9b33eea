"""Lines traced through grids: where they run, how they go on, what is beside them."""
