"""Nobody but this computer's user gets in, and no other site can act through that user's browser."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest
from starlette.routing import Mount, Route

from picklist.server.app import make_app
from picklist.server.desk import Desk
from picklist.server.front_door import HEADERS, LARGEST_BODY, new_door
from picklist.server.run import listen
from picklist.tasks.errors import WrongUse
from tests.server.site import DOOR, PORT, at, client_of, desk_of

OWN = f"http://127.0.0.1:{PORT}"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    (tmp_path / "north").mkdir()
    return desk_of(tmp_path / "north")


@pytest.mark.parametrize(
    "host", ["example.org", f"example.org:{PORT}", "127.0.0.1", "127.0.0.1:80", f"127.0.0.1.example.org:{PORT}", ""]
)
def test_a_name_bent_to_this_computer_is_refused(desk: Desk, host: str) -> None:
    answer = client_of(desk).get(at("papers"), headers={"host": host})
    assert answer.status_code == 421


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"LOCALHOST:{PORT}"])
def test_both_names_of_this_computer_are_taken(desk: Desk, host: str) -> None:
    assert client_of(desk).get(at("papers"), headers={"host": host}).status_code == 200


def test_without_the_cookie_nothing_is_shown(desk: Desk) -> None:
    stranger = client_of(desk, inside=False)
    for page in ("", "papers", "input", "static/style.css", "work/1/stage"):
        assert stranger.get(at(page)).status_code == 403
    stranger.cookies.set(DOOR.cookie, "session-wort", path=DOOR.base)
    assert stranger.get(at("papers")).status_code == 403


@pytest.mark.parametrize("key", ["", "start-kez", "start-key2", "%00", "ÿ"])
def test_a_wrong_start_key_sets_no_cookie(desk: Desk, key: str) -> None:
    answer = client_of(desk, inside=False).get(at(f"start?key={key}"))
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


def test_the_start_link_sets_a_cookie_for_our_path_only(desk: Desk) -> None:
    browser = client_of(desk, inside=False)
    answer = browser.get(at("start?key=start-key"), headers={"sec-fetch-site": "cross-site"})
    cookie = answer.headers["set-cookie"]
    assert answer.status_code == 200
    assert f"Path={DOOR.base}" in cookie
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert DOOR.key not in answer.text
    assert browser.get(at("papers")).status_code == 200


def posts(desk: Desk) -> list[str]:
    """Every address that a form can be sent to."""
    mounted = [route for route in make_app(desk, DOOR).routes if isinstance(route, Mount)]
    routes = [route for mount in mounted for route in mount.routes if isinstance(route, Route)]
    return [route.path for route in routes if "POST" in (route.methods or ())]


def test_every_form_needs_its_token(desk: Desk) -> None:
    client, addresses = client_of(desk), posts(desk)
    assert len(addresses) >= 6
    for address in addresses:
        page = at(address.strip("/").replace("{number}", "1").replace("{case:path}", "C-1"))
        for token in ({}, {"token": ""}, {"token": "form-tokem"}):
            assert client.post(page, data=token).status_code == 403, address


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://example.org"},
        {"origin": "null"},
        {"origin": f"https://127.0.0.1:{PORT}"},
        {"origin": f"http://127.0.0.1:{PORT + 1}"},
        {"origin": f"http://localhost:{PORT}"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
    ],
)
def test_a_form_on_another_site_does_nothing_even_with_cookie_and_token(desk: Desk, headers: dict[str, str]) -> None:
    client = client_of(desk)
    del client.headers["sec-fetch-site"]
    answer = client.post(at("build"), data={"token": DOOR.token}, headers=headers)
    assert answer.status_code == 403
    assert desk.workshop.find("1") is None


def test_a_form_that_says_nothing_of_its_origin_does_nothing(desk: Desk) -> None:
    client = client_of(desk)
    del client.headers["sec-fetch-site"]
    assert client.post(at("build"), data={"token": DOOR.token}).status_code == 403
    assert client.post(at("build"), data={"token": DOOR.token}, headers={"origin": OWN}).status_code == 303


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_site_cannot_even_look(desk: Desk, site: str) -> None:
    assert client_of(desk).get(at("papers"), headers={"sec-fetch-site": site}).status_code == 403


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(desk: Desk, method: str) -> None:
    assert client_of(desk).request(method, at("papers")).status_code == 405


def test_every_answer_carries_the_guarding_headers(desk: Desk) -> None:
    client, stranger = client_of(desk), client_of(desk, inside=False)
    for answer in (
        client.get(at()),
        client.get(at("no-such-page")),
        client.get("/elsewhere"),
        stranger.get(at()),
        client.post(at("build")),
    ):
        for name, value in HEADERS.items():
            assert answer.headers[name] == value, (answer.url, name)
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy


def test_too_large_a_body_is_refused_by_its_word_and_by_its_weight(desk: Desk) -> None:
    client = client_of(desk)
    promised = client.post(at("input"), headers={"content-length": str(LARGEST_BODY + 1)}, content=b"x")
    assert promised.status_code == 413

    def growing() -> object:
        for _ in range((LARGEST_BODY >> 20) + 2):
            yield b"x" * (1 << 20)

    kind = {"content-type": "multipart/form-data; boundary=b"}
    grown = client.post(at("input"), headers=kind, content=growing())
    assert grown.status_code == 413


def test_the_secrets_of_two_runs_differ() -> None:
    words = iter("abcdefgh")
    first, second = new_door(1, lambda: next(words)), new_door(1, lambda: next(words))
    assert len({first.base, first.key, first.session, first.token}) == 4
    assert not {first.base, first.key, first.session, first.token} & {second.base, second.key, second.session}


def test_only_the_loopback_address_is_listened_on() -> None:
    listener = listen(0)
    address, port = listener.getsockname()
    assert address == "127.0.0.1"
    with socket.create_connection(("127.0.0.1", port), timeout=2):
        pass
    for other in {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None)} - {"127.0.0.1"}:
        with pytest.raises(OSError), socket.create_connection((str(other), port), timeout=2):  # noqa: PT011
            pass
    listener.close()


def test_a_taken_port_is_said() -> None:
    listener = listen(0)
    with pytest.raises(WrongUse, match="cannot be used"):
        listen(listener.getsockname()[1])
    listener.close()
