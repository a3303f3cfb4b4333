"""Field logs as text: RINEX observation files, NMEA sentences, trajectories."""
