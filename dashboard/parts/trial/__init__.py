"""Blocks of the pages about trials."""
