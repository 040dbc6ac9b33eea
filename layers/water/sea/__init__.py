"""Waves that the wind raises over a fetch, and what an opposing current makes of them."""
