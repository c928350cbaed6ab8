"""Panels and their controllers by the readings."""
