"""Loads, sources and the bank, step by step."""
