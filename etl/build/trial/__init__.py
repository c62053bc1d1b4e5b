"""Trials: plans, registered trials, and how each stands."""
