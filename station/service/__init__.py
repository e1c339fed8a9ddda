"""The daemon: the only place where ports, clocks, sockets and the ledger meet."""
