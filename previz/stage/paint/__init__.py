"""What is painted: surfaces, roads, skies."""
