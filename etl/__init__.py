"""Logs of flexible metal hoses in, life statistics and decisions out."""

from etl.threads import one_by_default

__version__ = "0.1.0"

one_by_default()
