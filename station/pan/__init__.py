"""What one pan shows, reading by reading; a pan knows no batch. Pure."""
