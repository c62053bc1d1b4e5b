"""Blocks of the page for one's own files."""
