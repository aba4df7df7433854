"""How much light falls where, by rays."""
