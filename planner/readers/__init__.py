"""The outside world turned into domain objects: configuration, routes, forecasts."""
