"""Sun, cloud and irradiance."""
