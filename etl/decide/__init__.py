"""Decisions from life statistics: pure functions, arrays in and arrays out."""
