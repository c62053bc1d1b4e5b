"""From findings of a teardown to a mechanism."""
