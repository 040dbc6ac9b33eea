"""Ask a running desk as its own pages do."""

from __future__ import annotations

import http.client

from layers.desk.serving import Running


def ask(desk: Running, method: str, path: str, body: bytes = b"", **headers: str):
    """Ask as the desk's own page would, unless `headers` say otherwise."""
    keys = desk.keys
    own = {
        "Origin": keys.origin,
        "Cookie": f"{keys.cookie_name}={keys.cookie}",
        "Accept": "application/json",
    }
    connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=600)
    connection.request(method, path, body, {**own, **headers})
    answer = connection.getresponse()
    content = answer.read()
    return answer.status, {name.lower(): value for name, value in answer.getheaders()}, content
