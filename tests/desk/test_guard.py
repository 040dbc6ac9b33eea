"""What keeps other programs and other sites' pages out: each attack, and what it is answered."""

import pytest
from coroutines import run_apart
from starlette.responses import PlainTextResponse

from layers.desk.guard import POLICY, Guard, Keys

KEYS = Keys(4711, key="the-key", cookie="the-cookie")
HOST = "127.0.0.1:4711"
ORIGIN = f"http://{HOST}"
COOKIE = "seabed-4711=the-cookie"


def ask(method="GET", path="/", query="", *, host=HOST, **headers):
    """Give status and headers of an answer."""
    sent = []
    named = {"host": host, **{name.replace("_", "-"): value for name, value in headers.items()}}
    scope = {
        "type": "http", "http_version": "1.1", "method": method, "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(), "scheme": "http", "root_path": "",
        "headers": [(name.encode(), value.encode("latin-1")) for name, value in named.items()],
    }  # fmt: skip

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message):
        sent.append(message)

    run_apart(Guard(PlainTextResponse("inside"), KEYS), scope, receive, send)
    start = sent[0]
    return start["status"], {k.decode(): v.decode() for k, v in start["headers"]}


def test_a_page_with_the_cookie_is_let_in():
    assert ask(cookie=COOKIE)[0] == 200


@pytest.mark.parametrize(
    "cookie", ["", "seabed-4711=", "seabed-4711=the-cooki", "seabed-4712=the-cookie", "=;=", "\xff"]
)
def test_no_other_cookie_opens(cookie):
    assert ask(cookie=cookie)[0] == 403


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:4711", "127.0.0.1", "127.0.0.1:4712", "localhost:4711",
     "127.0.0.1:4711.evil.example", "[::1]:4711", ""],
)  # fmt: skip
def test_a_name_bound_to_this_machine_by_another_is_refused(host):
    # DNS rebinding: the browser sends the other site's name
    assert ask(host=host, cookie=COOKIE)[0] == 421


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
@pytest.mark.parametrize(
    "origin", [None, "null", "http://evil.example", "http://127.0.0.1", "https://127.0.0.1:4711",
               "http://127.0.0.1:4711.evil.example"],
)  # fmt: skip
def test_a_change_that_another_page_asks_for_is_refused(method, origin):
    headers = {} if origin is None else {"origin": origin}
    assert ask(method, cookie=COOKIE, **headers)[0] == 403


def test_a_change_from_the_desks_own_page_is_let_in():
    assert ask("POST", cookie=COOKIE, origin=ORIGIN)[0] == 200


def test_a_change_needs_the_cookie_too():
    assert ask("POST", origin=ORIGIN)[0] == 403


def test_another_sites_page_can_not_embed_or_read():
    embedded = {
        "sec_fetch_site": "cross-site",
        "sec_fetch_mode": "no-cors",
        "sec_fetch_dest": "image",
    }
    assert ask(cookie=COOKIE, **embedded)[0] == 403


def test_the_key_turns_into_a_cookie_and_leaves_the_address():
    status, headers = ask("GET", "/w/sound/today", "key=the-key&result=7")
    assert (status, headers["location"]) == (303, "/w/sound/today?result=7")
    cookie = headers["set-cookie"].lower()
    assert "seabed-4711=the-cookie" in cookie
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


@pytest.mark.parametrize("path", ["//evil.example/", "/\\evil.example", "///evil.example"])
def test_the_redirect_never_leads_to_another_host(path):
    status, headers = ask("GET", path, "key=the-key")
    assert status == 303
    assert headers["location"] == "/evil.example" + path[len(path.rstrip("/")) :]


@pytest.mark.parametrize("key", ["", "the-ke", "the-key2", "THE-KEY", "é"])
def test_a_wrong_key_opens_nothing(key):
    status, headers = ask("GET", "/", f"key={key}")
    assert status == 403
    assert "set-cookie" not in headers


def test_the_key_opens_by_get_alone():
    assert ask("POST", "/stop", "key=the-key", origin=ORIGIN)[0] == 403


def test_every_answer_carries_the_safe_headers():
    for headers in (ask(cookie=COOKIE)[1], ask()[1], ask(host="evil")[1]):
        assert headers["content-security-policy"] == POLICY
        assert headers["x-frame-options"] == "DENY"
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"
    assert "unsafe" not in POLICY
    assert "http" not in POLICY


def test_two_runs_have_no_secret_in_common():
    one, other = Keys(1), Keys(1)
    assert len({one.key, one.cookie, other.key, other.cookie}) == 4
    assert min(len(one.key), len(one.cookie)) >= 32
