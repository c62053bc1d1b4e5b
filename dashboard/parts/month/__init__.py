"""Blocks of the page of this month."""
