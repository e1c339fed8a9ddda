"""What is wrong with a machine's station, and what to do."""
