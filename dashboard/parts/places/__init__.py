"""Blocks of the page of all places."""
