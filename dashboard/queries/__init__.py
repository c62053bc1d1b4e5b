"""Questions the pages ask of the published edition."""
