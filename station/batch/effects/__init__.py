"""What each event changes in its batch: a file for each file of events. Pure."""
