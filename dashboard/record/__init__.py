"""The record of one teardown: its screens, what stands beside them, what each press does."""
