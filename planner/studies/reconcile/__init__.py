"""Readings compared with the model."""
