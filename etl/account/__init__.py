"""Accounts of a store: who may do what, passwords, one-time links, sessions, failed attempts."""
