"""Blocks of the page of one kind of hose."""
