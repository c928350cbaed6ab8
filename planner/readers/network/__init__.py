"""Forecasts fetched from a network: the one room of the house that asks anybody outside for anything."""
