"""The weather along the track: cloud, sunlight, wind and their uncertainty."""
