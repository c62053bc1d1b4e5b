"""Blocks of the page of data health."""
