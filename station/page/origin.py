"""Whether a request comes from the page itself: no other site may speak through a browser."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Mapping
from urllib.parse import urlsplit


def own_host(host: str | None) -> bool:
    """Return whether a request's Host names this machine as a page's address does.

    A name that somebody else's name server leads here (DNS rebinding) is refused: allowed are
    addresses in numbers, `localhost`, and the machine's own name, with `.local` or without.

    Args:
        host: The header, `NAME:PORT`; None: missing.
    """
    try:
        name = urlsplit(f"//{host}").hostname if host else None
    except ValueError:  # a bracket without its fellow
        name = None
    if not name:
        return False
    own = socket.gethostname().lower().split(".")[0]
    if name in ("localhost", own, f"{own}.local"):
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def from_the_page(headers: Mapping[str, str]) -> bool:
    """Return whether a request was made by the page that this very server gave out.

    Args:
        headers: By lower-case name. Every browser tells the origin of a socket and of a form
            that is posted; what tells none is no browser, and is refused, too.
    """
    host, origin = headers.get("host"), headers.get("origin")
    if not own_host(host) or origin is None:
        return False
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and parts.netloc == host
