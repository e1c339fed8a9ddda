"""What is going in: decisions as pure functions. No clock, file, port, randomness or logging."""
