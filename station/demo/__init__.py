"""The demo: the real daemon on simulated scales, and hands that do what it says."""
