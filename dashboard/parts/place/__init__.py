"""Blocks of the page of one place."""
