"""A clip: encoded, whole or not at all."""
