"""Maps of the track and of the weather."""
