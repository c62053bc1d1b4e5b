"""What to hold and to order of one part."""
