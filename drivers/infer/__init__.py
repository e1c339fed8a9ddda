"""From what an unknown scale sent for known loads to a description of its frames. Pure."""
