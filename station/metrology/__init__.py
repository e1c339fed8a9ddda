"""How good a number is: scales, uncertainty, bands, fitness. Pure."""
