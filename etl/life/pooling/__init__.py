"""Partial pooling: strata and their hyperparameters drawn jointly."""
