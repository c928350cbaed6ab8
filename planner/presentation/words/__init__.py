"""Sentences and rounded figures."""
