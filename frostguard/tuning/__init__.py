"""Readings of thermometers, and what they teach the model about this terrace."""
