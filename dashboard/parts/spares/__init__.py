"""Blocks of the page of spares."""
