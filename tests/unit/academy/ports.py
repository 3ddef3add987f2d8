"""Ports of this machine, for tests with servers."""

import socket


def find_free_port() -> int:
    """A port that nothing listens on."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]
