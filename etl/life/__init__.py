"""Life statistics: pure functions, arrays in and arrays out."""
