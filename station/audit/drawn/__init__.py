"""Charts as places on paper: pure, without a word of markup."""
