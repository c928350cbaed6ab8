"""Finds a policy and turns it into ladders, windows and reasons."""
