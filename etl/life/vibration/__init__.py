"""Life against vibration: regression with unknown velocities, draws, maps."""
