"""Drawings of a reconciliation."""
