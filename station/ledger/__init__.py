"""What went in: the only truth. Tables for people are a projection that can be rebuilt from it."""
