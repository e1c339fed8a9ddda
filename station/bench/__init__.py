"""The display at the bench and its keys: a client of the socket that owns nothing."""
