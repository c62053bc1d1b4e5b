"""Blocks of the pages about teardowns."""
