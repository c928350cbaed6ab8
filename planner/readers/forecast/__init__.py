"""Forecast files to one dataset."""
