"""What is built and lit, kept on disk between runs."""
