"""Answers for an auditor, from the events and from nothing else."""
