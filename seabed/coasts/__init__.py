"""Structure of grids too large for memory: worked through in chunks, with whole features."""
