"""Stations whose constituents predict heights and currents, and their files."""
