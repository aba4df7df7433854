"""Solids and outlines that models are made of, and how they are finished for light."""
