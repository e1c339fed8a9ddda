"""What a scale says: bytes in, readings out. Nothing here knows about food."""
