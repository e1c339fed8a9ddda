"""What is so in a batch, by what was recorded; a batch knows no pan. Pure."""
