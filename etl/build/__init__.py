"""Wiring of the build: tables in, pure functions called, frames out for the results layer."""
