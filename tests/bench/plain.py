"""The floor of the way from a pty to a screen: the least that three plain programs can do.

`plain.py station PORT SOCKET` reads frames and sends each number on; `plain.py display SOCKET`
writes what comes to its terminal. No checks, no decisions, no record.
"""

import os
import re
import socket
import sys
import tty
from decimal import Decimal

FRAME = re.compile(rb"\n(.)(.)(.)(.).([-+ 0-9.]{10})(.{3})\r")


def station(port: str, path: str) -> None:
    line = os.open(port, os.O_RDWR | os.O_NOCTTY)
    tty.setraw(line)
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(path)
        server.listen()
        client, _ = server.accept()
        waiting = b""
        while data := os.read(line, 4096):
            waiting += data
            while match := FRAME.search(waiting):
                waiting = waiting[match.end() :]
                client.sendall(b"%s\n" % str(Decimal(match[5].decode().strip())).encode())


def display(path: str) -> None:
    with socket.socket(socket.AF_UNIX) as server:
        server.connect(path)
        with server.makefile("rb") as lines:
            for line in lines:
                os.write(1, b"\x1b[8;30H%s" % line.strip())


if __name__ == "__main__":
    if sys.argv[1] == "station":
        station(sys.argv[2], sys.argv[3])
    else:
        display(sys.argv[2])
