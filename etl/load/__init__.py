"""Reading, checking and storing logs."""
