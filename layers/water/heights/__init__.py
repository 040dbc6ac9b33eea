"""Tide heights: tables of high and low water, the stage, datums."""
