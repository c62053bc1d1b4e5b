"""Blocks of the track record."""
