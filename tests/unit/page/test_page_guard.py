"""Who gets in, and what cannot be done from outside."""

from __future__ import annotations

import socket

import pytest

from frostguard.page import guard, line
from frostguard.page.guard import Keys
from tests.served_page import until


@pytest.mark.parametrize("host", ["example.org", "example.org:8420", "127.0.0.1:80", "127.0.0.1.example.org"])
def test_a_foreign_host_is_refused(begun, host):
    """A name that somebody pointed at this machine shows nothing, whatever is asked."""
    visitor = begun().visitor()
    for address in ("/", "/settings", "/style.css"):
        assert visitor.get(address, headers={"Host": host}).status_code == 421


def test_a_change_needs_the_mark_of_ones_own_pages(begun):
    """Without the mark, with a made-up one, or with that of another session nothing is changed."""
    terrace = begun()
    visitor, other = terrace.visitor(), terrace.visitor()
    before = terrace.garden.read_bytes()
    fields = {"version": visitor.field("/new-pot", "version"), "plant": "lemon", "material": "plastic",
              "volume_l": "10", "spot": "deck"}  # fmt: skip
    for mark in ("", "0" * 64, "é", other.mark()):
        assert visitor.send("/new-pot", fields, mark=mark).status_code == 403
    assert visitor.client.post("/new-pot", data=fields).status_code == 403
    assert terrace.garden.read_bytes() == before
    assert visitor.send("/new-pot", fields).status_code == 303
    assert b"lemon" in terrace.garden.read_bytes()


@pytest.mark.parametrize(
    "headers",
    [{"Origin": "http://example.org"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"},
     {"Sec-Fetch-Site": "same-site"}],
)  # fmt: skip
def test_a_form_of_another_page_is_refused(begun, headers):
    """Even with the right mark a form does not count that another page has sent."""
    assert begun().visitor().send("/settings/test", {}, headers=headers).status_code == 403


def test_what_is_no_form_is_refused(begun):
    """Only plain forms are read, of moderate size, in readable letters, with not too many fields."""
    visitor = begun().visitor()
    mark = visitor.mark()
    plain = {"Content-Type": "application/x-www-form-urlencoded"}
    post = visitor.client.post
    assert post("/say", json={"mark": mark}).status_code == 415
    assert post("/say", content=b"mark=%ff%fe", headers=plain).status_code == 400
    assert post("/say", content="&".join(["job=1"] * 600), headers=plain).status_code == 400
    assert post("/say", content=b"x" * 64_001, headers=plain).status_code == 413
    assert post("/say", content=(b"x" * 1000 for _ in range(100)), headers=plain).status_code == 413
    assert visitor.client.put("/say", content=b"").status_code == 405


@pytest.mark.parametrize(
    "address",
    ["/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/style.css/../../server.py", "/pot/..%2f..%2fgarden.yaml",
     "/pot/%2e%2e", "/page.css", "/garden.yaml", "//example.org/", "/pot/red%00"],
)  # fmt: skip
def test_no_address_leads_to_a_file(begun, address):
    """There are pages only; dots, slashes and noughts lead nowhere, and to no other host."""
    terrace = begun()
    with socket.create_connection(terrace.host.split(":")) as line:  # a library would tidy the address up
        line.sendall(f"GET {address} HTTP/1.1\r\nHost: {terrace.host}\r\nConnection: close\r\n\r\n".encode())
        answer = b"".join(iter(lambda: line.recv(65536), b"")).decode()
    assert answer.startswith("HTTP/1.1 404 ")
    assert "root:" not in answer
    assert "latitude" not in answer


def test_the_link_lets_a_device_in(begun):
    """With `--lan` nothing is shown without the link; who opened it gets in by its cookie alone."""
    terrace = begun(token="right")
    visitor = terrace.visitor("127.0.0.7")
    for address in ("/", "/settings", "/style.css", "/enter/"):
        assert visitor.get(address).status_code == 403
    entered = visitor.get("/enter/right")
    assert entered.status_code == 200
    cookie = entered.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert visitor.get("/settings").status_code == 200
    assert terrace.visitor("127.0.0.8").get("/settings").status_code == 403


def test_a_made_up_cookie_is_none(begun):
    """A session is known by its signature only."""
    terrace = begun(token="right")
    visitor, name = terrace.visitor(), f"frostguard-{terrace.host.rpartition(':')[2]}"
    other = Keys(frozenset(), "right").new_session()  # of another run of the server
    for cookie in (f"{name}=x", f"{name}=x.y", f'{name}="', f"{name}=", f"{name}=é.é", "=;=;", f"{name}={other}"):
        assert visitor.get("/settings", headers={"Cookie": cookie.encode()}).status_code == 403


def test_a_body_that_never_comes_does_not_hold_the_page(begun, monkeypatch):
    """Whoever announces a form and sends nothing is cut off; others are served meanwhile."""
    monkeypatch.setattr(guard, "LONGEST_BODY_S", 0.2)
    terrace = begun()
    head = (f"POST /say HTTP/1.1\r\nHost: {terrace.host}\r\nContent-Length: 9\r\n"
            "Content-Type: application/x-www-form-urlencoded\r\n\r\n")  # fmt: skip
    with socket.create_connection(terrace.host.split(":")) as line:
        line.sendall(head.encode())
        assert terrace.visitor().get("/settings").status_code == 200
        line.settimeout(10.0)
        assert line.recv(65536).startswith(b"HTTP/1.1 408 ")


def test_a_line_on_which_nobody_asks_is_cut(begun, monkeypatch):
    """Half a head, then silence: after a while the line is closed."""
    monkeypatch.setattr(line, "LONGEST_SILENCE_S", 0.2)
    with socket.create_connection(begun().host.split(":")) as held:
        held.sendall(b"GET / HTTP/1.1\r\nHost: x")
        held.settimeout(60.0)
        assert held.recv(10) == b""


def test_more_lines_than_there_are_do_not_hold_the_page_for_good(begun, monkeypatch):
    """While all lines are held who asks is told to come again; once they are cut, he is served."""
    monkeypatch.setattr(line, "LONGEST_SILENCE_S", 3600.0)  # cut by hand below, however slow this machine is
    terrace = begun()
    held = [socket.create_connection(terrace.host.split(":")) for _ in range(line.MOST_LINES + 5)]
    for one in held:
        one.sendall(b"GET / HTTP/1.1\r\nHost: x")
    visitor = terrace.visitor()
    until(lambda: visitor.get("/settings").status_code == 503)
    for one in held:
        one.close()
    until(lambda: visitor.get("/settings").status_code == 200)


def test_two_pages_on_one_machine_keep_apart(begun):
    """Cookies of one port are not those of another, so neither page throws the other's visitors out."""
    visitor = begun().visitor()
    visitor.get("/settings")
    (cookie,) = visitor.client.cookies.jar
    assert cookie.name == f"frostguard-{visitor.client.base_url.port}"


def test_guessing_links_is_slowed(begun):
    """Five wrong links, then not even the right one is taken for ten minutes; another device is not held up."""
    terrace = begun(token="right")
    guesser = terrace.visitor("127.0.0.7")
    assert [guesser.get(f"/enter/{number}").status_code for number in range(6)] == [403] * 5 + [429]
    assert guesser.get("/enter/right").status_code == 429
    assert terrace.visitor("127.0.0.8").get("/enter/right").status_code == 200
    terrace.seconds += 601.0
    assert guesser.get("/enter/right").status_code == 200


def test_many_guessers_are_slowed_together(begun):
    """Fifty wrong links from anywhere, then nobody new gets in for a while."""
    terrace = begun(token="right")
    for number in range(50):
        guesser = terrace.visitor(f"127.0.1.{number}")
        assert guesser.get("/enter/wrong").status_code == 403
        guesser.client.close()
    assert terrace.visitor("127.0.0.99").get("/enter/right").status_code == 429


def test_every_answer_forbids_what_is_not_its_own(begun):
    """No script, style or picture from elsewhere, no frame round it, nothing kept by the way; refusals too."""
    visitor = begun().visitor()
    for address in ("/settings", "/nothing", "/style.css"):
        headers = visitor.get(address).headers
        assert headers["content-security-policy"].startswith("default-src 'none'")
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"
    assert visitor.get("/", headers={"Host": "example.org"}).headers["x-frame-options"] == "DENY"


def test_a_fault_of_our_own_tells_no_more_than_its_name_and_keeps_the_rules(begun, monkeypatch):
    """Where a page fails inside, there is a sentence, no trace of the code, and every header all the same."""
    monkeypatch.setattr("frostguard.page.logbook.logbook_blocks", lambda *_: [][0])
    answer = begun().visitor().get("/book")
    assert (answer.status_code, "Traceback" in answer.text) == (500, False)
    assert "IndexError" in answer.text
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")
    assert answer.headers["cache-control"] == "no-store"
