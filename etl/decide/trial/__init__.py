"""Trials of two constructions: design, pairs, test, choice, safety stop."""
