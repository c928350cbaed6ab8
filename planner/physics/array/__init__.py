"""Cells, controllers and dirt."""
