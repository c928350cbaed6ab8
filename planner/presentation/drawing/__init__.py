"""Drawings as inline SVG."""
