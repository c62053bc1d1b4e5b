"""The track record: forecasts of earlier months, made once, scored at every load."""
