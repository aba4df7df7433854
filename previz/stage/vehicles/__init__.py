"""The model vehicles."""
