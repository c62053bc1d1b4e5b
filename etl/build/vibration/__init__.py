"""Life under vibration: from the records to the published tables."""
