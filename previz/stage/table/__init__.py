"""The table itself: ground, relief and backdrop."""
