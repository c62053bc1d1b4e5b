"""Figures drawn from published rows; pure functions, arrays in."""
