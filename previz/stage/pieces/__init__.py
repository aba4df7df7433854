"""What stands on the set, and how it is put there."""
