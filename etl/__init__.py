"""Logs of flexible metal hoses in, life statistics and decisions out."""

__version__ = "0.1.0"
