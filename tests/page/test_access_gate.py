"""The gate, attacked line by line: who is asked for the code, and what never gets through."""

import pytest
from starlette.websockets import WebSocketDisconnect

from page.access_app import HERE, PORT, SHOP, SHOP_ADDRESS, TABLET, browser, enter, gated_app, open_socket

HTML = {"accept": "text/html,application/xhtml+xml"}


@pytest.fixture
def gated():
    return gated_app()


def let_in(app, gate, address=TABLET):
    client = browser(app, address=address)
    assert enter(client, code=gate.code).status_code == 303
    return client


# Who is local


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1", "[::1]"])
@pytest.mark.parametrize("peer", ["127.0.0.1", "::1", "::ffff:127.0.0.1"])
def test_at_the_computer_itself_nobody_is_asked(gated, host, peer):
    answer = browser(gated[0], f"http://{host}:{PORT}", peer).get("/")
    assert answer.status_code == 200
    assert answer.json()["local"] is True


@pytest.mark.parametrize("peer", ["192.0.2.77", "fe80::1", "::ffff:192.0.2.77", "testclient", ""])
def test_a_peer_that_is_not_loopback_is_asked_even_under_a_loopback_name(gated, peer):
    assert browser(gated[0], HERE, peer).get("/").status_code == 401


@pytest.mark.parametrize("name", ["x-forwarded-for", "forwarded", "x-real-ip", "via", "x-forwarded-host"])
def test_a_forwarded_request_is_not_local_though_it_comes_from_loopback(gated, name):
    assert browser(gated[0], HERE, "127.0.0.1").get("/", headers={name: "127.0.0.1"}).status_code == 401


def test_a_header_that_claims_loopback_makes_nobody_local(gated):
    for name in ("x-forwarded-for", "x-real-ip", "forwarded", "client-ip"):
        assert browser(gated[0]).get("/", headers={name: "127.0.0.1"}).status_code == 401


def test_a_tunnel_to_loopback_under_the_shop_name_is_asked(gated):
    assert browser(gated[0], SHOP, "127.0.0.1").get("/").status_code == 401


def test_listening_on_loopback_only_nobody_else_gets_as_far_as_the_code():
    app, gate, _ = gated_app(shop_names=())
    assert gate.settings.bind_address == "127.0.0.1"
    assert gate.addresses == []
    stranger = browser(app, HERE)
    assert stranger.get("/enter").status_code == 403
    assert enter(stranger, origin=HERE, code=gate.code).status_code == 403
    assert browser(app, SHOP, "127.0.0.1").get("/").status_code == 421
    forwarded = {"x-forwarded-for": "192.0.2.9"}
    assert browser(app, HERE, "127.0.0.1").get("/", headers=forwarded).status_code == 403


# Host


@pytest.mark.parametrize(
    "host",
    [
        "rebound.example:8713",
        "localhost.rebound.example:8713",
        "localhost",
        "localhost:80",
        "localhost:8713:8713",
        "localhost.:8713",
        "user@localhost:8713",
        "127.0.0.2:8713",
        "2130706433:8713",
        "0.0.0.0:8713",
        "192.0.2.21:8713",
        "",
    ],
)
def test_a_host_that_is_not_ours_is_refused(gated, host):
    for address in ("127.0.0.1", TABLET):
        client = browser(gated[0], HERE, address)
        assert client.get("/", headers={"host": host}).status_code == 421
        assert client.post("/change", headers={"host": host, "origin": f"http://{host}"}).status_code == 421
        with pytest.raises(WebSocketDisconnect), open_socket(client, host=host, origin=f"http://{host}"):
            pass


def test_host_names_are_alike_in_capitals(gated):
    assert browser(gated[0], HERE, "127.0.0.1").get("/", headers={"host": f"LOCALHOST:{PORT}"}).status_code == 200


def test_two_host_headers_are_refused(gated):
    client = browser(gated[0], HERE, "127.0.0.1")
    headers = [("host", f"localhost:{PORT}"), ("host", "rebound.example")]
    assert client.get("/", headers=headers).status_code == 421


# Origin

FOREIGN = [
    None,
    "null",
    "",
    "http://evil.example",
    f"https://localhost:{PORT}",
    "http://localhost",
    "http://localhost:8714",
    f"http://localhost:{PORT}.evil.example",
    f"http://127.0.0.1:{PORT}",  # ours, but not the name this page was loaded by
]


def origin_header(origin):
    return {} if origin is None else {"origin": origin}


@pytest.mark.parametrize("origin", FOREIGN)
def test_nothing_is_changed_for_another_sites_page(gated, origin):
    client = browser(gated[0], HERE, "127.0.0.1")
    for method in ("POST", "PUT", "PATCH", "DELETE", "OPTIONS"):
        assert client.request(method, "/change", headers=origin_header(origin)).status_code == 403
    assert client.post("/change", headers={"origin": HERE}).status_code == 200


@pytest.mark.parametrize("origin", FOREIGN)
def test_no_websocket_is_opened_for_another_sites_page(gated, origin):
    client = browser(gated[0], HERE, "127.0.0.1")
    attempt = client.websocket_connect(f"ws://localhost:{PORT}/ws", headers=origin_header(origin))
    with pytest.raises(WebSocketDisconnect), attempt:
        pass
    with open_socket(client) as socket:
        socket.send_text("there")
        assert socket.receive_text() == "there"


def test_a_right_code_from_another_sites_page_opens_nothing(gated):
    app, gate, _ = gated
    client = browser(app)
    assert enter(client, origin="http://evil.example", code=gate.code).status_code == 403
    assert client.get("/").status_code == 401


def test_another_sites_page_may_not_read_either_but_a_link_may_be_followed(gated):
    client = browser(gated[0], HERE, "127.0.0.1")
    assert client.get("/", headers={"origin": "http://evil.example"}).status_code == 403
    embedded = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors", "sec-fetch-dest": "script"}
    framed = {"sec-fetch-site": "same-site", "sec-fetch-mode": "navigate", "sec-fetch-dest": "iframe"}
    followed = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
    assert client.get("/", headers=embedded).status_code == 403
    assert client.get("/", headers=framed).status_code == 403
    assert client.get("/", headers=followed).status_code == 200


def test_no_answer_gives_another_site_leave_to_read_it_or_to_frame_it(gated):
    answer = browser(gated[0], HERE, "127.0.0.1").get("/", headers={"origin": HERE})
    assert not [name for name in answer.headers if name.startswith("access-control-")]
    assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"


# The code


def test_without_a_session_a_browser_is_shown_the_way_in_and_a_program_is_refused(gated):
    client = browser(gated[0])
    shown = client.get("/anything", headers=HTML)
    assert (shown.status_code, shown.headers["location"]) == (303, "/enter")
    assert client.get("/_nicegui/whatever.js").status_code == 401
    assert client.post("/change", headers={"origin": SHOP}).status_code == 401
    with pytest.raises(WebSocketDisconnect), open_socket(client):
        pass


def test_the_code_opens_a_session_by_post(gated):
    app, gate, _ = gated
    client = let_in(app, gate)
    assert client.get("/").json() == {"local": False, "address": TABLET}
    assert client.post("/change", headers={"origin": SHOP}).status_code == 200
    with open_socket(client) as socket:
        socket.send_text("there")
        assert socket.receive_text() == "there"


def test_the_code_in_an_address_opens_nothing(gated):
    app, gate, _ = gated
    client = browser(app)
    for path in (f"/enter?code={gate.code}", f"/?code={gate.code}", f"/enter/{gate.code}", f"/?token={gate.code}"):
        assert "set-cookie" not in client.get(path, headers=HTML).headers
    posted = client.post(f"/enter?code={gate.code}", data={}, headers={"origin": SHOP})
    assert posted.status_code in (400, 403)
    assert client.get("/").status_code == 401


def test_the_code_may_be_typed_in_any_case_and_spacing(gated):
    app, gate, _ = gated
    for typed in (gate.code.lower(), gate.code.replace("-", ""), f" {gate.code.replace('-', ' ')} "):
        assert enter(browser(app), code=typed).status_code == 303


def test_a_wrong_code_is_said_and_opens_nothing(gated):
    app, gate, _ = gated
    lone_surrogate = "\ud800".encode("utf-8", "surrogatepass")
    wrong_codes = ("", "AAAA-AAAA", gate.code[:-1], gate.code + "A", "é" * 8, "\x00", lone_surrogate)
    for last, wrong in enumerate(wrong_codes):
        client = browser(app, address=f"192.0.2.{100 + last}")
        answer = enter(client, code=wrong)
        assert answer.status_code == 403
        assert "wrong" in answer.text
        assert "set-cookie" not in answer.headers
        assert client.get("/").status_code == 401


def test_only_the_form_itself_is_read(gated):
    app, gate, _ = gated
    client = browser(app)
    origin = {"origin": SHOP}
    assert client.post("/enter", json={"code": gate.code}, headers=origin).status_code == 400
    assert client.post("/enter", data={"code": gate.code + " " * 5000}, headers=origin).status_code == 400
    many = "&".join(["code=" + gate.code] * 50)
    form = origin | {"content-type": "application/x-www-form-urlencoded"}
    assert client.post("/enter", content=many, headers=form).status_code == 400


def test_what_is_typed_is_never_shown_back(gated):
    answer = enter(browser(gated[0]), code="<script>alert(1)</script>")
    assert "<script>alert" not in answer.text


def test_the_cookie_is_kept_from_scripts_and_from_other_sites(gated):
    app, gate, _ = gated
    said = enter(browser(app), code=gate.code).headers["set-cookie"].lower()
    assert "httponly" in said
    assert "samesite=strict" in said
    assert "path=/" in said
    assert "domain" not in said
    assert gate.code.lower() not in said


def test_each_exchange_gives_a_new_session_and_ends_the_one_before(gated):
    app, gate, _ = gated
    client = let_in(app, gate)
    planted = client.cookies[gate.cookie]
    stranger = browser(app)
    stranger.cookies.set(gate.cookie, "0" * 64)
    assert enter(stranger, code=gate.code).status_code == 303
    assert stranger.cookies.get(gate.cookie, domain=SHOP_ADDRESS) not in ("0" * 64, planted)


def test_a_made_up_or_emptied_cookie_opens_nothing(gated):
    app, gate, _ = gated
    for name in ("", "0" * 64, "\xff"):
        answer = browser(app).get("/", headers={"cookie": f"{gate.cookie}={name}".encode("latin-1")})
        assert answer.status_code == 401


def test_leaving_ends_the_session(gated):
    app, gate, _ = gated
    client = let_in(app, gate)
    kept = client.cookies[gate.cookie]
    assert client.post("/leave", headers={"origin": SHOP}).status_code == 303
    assert browser(app).get("/", headers={"cookie": f"{gate.cookie}={kept}"}).status_code == 401


def test_a_link_cannot_sign_anyone_out(gated):
    app, gate, _ = gated
    client = let_in(app, gate)
    client.get("/leave", headers=HTML)
    assert client.get("/").status_code == 200


# Expiry


@pytest.mark.parametrize(("step_s", "steps"), [(3601.0, 1), (1800.0, 24)])
def test_a_session_ends_after_an_idle_hour_and_after_half_a_day_in_any_case(gated, step_s, steps):
    app, gate, clock = gated
    client = let_in(app, gate)
    for _ in range(steps - 1):
        clock.pass_s(step_s)
        assert client.get("/").status_code == 200
    clock.pass_s(step_s)
    assert client.get("/").status_code == 401


def test_an_open_websocket_ends_with_its_session_and_lets_no_word_through(gated):
    app, gate, clock = gated
    client = let_in(app, gate)
    with open_socket(client) as socket:
        socket.send_text("before")
        assert socket.receive_text() == "before"
        clock.pass_s(13 * 3600.0)
        socket.send_text("after")
        with pytest.raises(WebSocketDisconnect):
            socket.receive_text()


def test_shutting_all_out_ends_sessions_sockets_code_and_links(gated):
    app, gate, _ = gated
    client = let_in(app, gate)
    code, token = gate.code, gate.entry_link().partition("#")[2]
    with open_socket(client) as socket:
        gate.shut_out_all()
        socket.send_text("after")
        with pytest.raises(WebSocketDisconnect):
            socket.receive_text()
    assert client.get("/").status_code == 401
    assert enter(browser(app), code=code).status_code == 403
    assert enter(browser(app, address="192.0.2.78"), token=token).status_code == 403
    assert enter(browser(app, address="192.0.2.79"), code=gate.code).status_code == 303


# The link of the QR code


def test_the_link_carries_its_token_behind_the_hash_where_no_browser_sends_it(gated):
    _, gate, _ = gated
    link = gate.entry_link()
    before, _, token = link.partition("#")
    assert before == f"{SHOP}/enter"
    assert len(token) >= 22
    assert gate.code.replace("-", "") not in link.replace("-", "")


def test_a_token_opens_once(gated):
    app, gate, _ = gated
    token = gate.entry_link().partition("#")[2]
    assert enter(browser(app), token=token).status_code == 303
    again = enter(browser(app, address="192.0.2.78"), token=token)
    assert again.status_code == 403
    assert "used" in again.text


def test_a_token_is_too_old_after_ten_minutes(gated):
    app, gate, clock = gated
    token = gate.entry_link().partition("#")[2]
    clock.pass_s(601.0)
    assert enter(browser(app), token=token).status_code == 403


def test_a_wrong_token_counts_as_a_wrong_code(gated):
    app, gate, _ = gated
    client = browser(app)
    for _ in range(3):
        enter(client, token="0" * 32)
    assert enter(client, code=gate.code).status_code == 429


# Guessing


def test_after_two_wrong_codes_even_the_right_one_has_to_wait(gated):
    app, gate, clock = gated
    client = browser(app)
    for _ in range(2):
        assert enter(client, code="AAAA-AAAA").status_code == 403
    refused = enter(client, code=gate.code)
    assert refused.status_code == 429
    assert float(refused.headers["retry-after"]) >= 1.0
    clock.pass_s(float(refused.headers["retry-after"]))
    assert enter(client, code=gate.code).status_code == 303


def test_another_address_need_not_wait_for_one_guessers_sake(gated):
    app, gate, _ = gated
    guesser = browser(app)
    for _ in range(4):
        enter(guesser, code="AAAA-AAAA")
    assert enter(browser(app, address="192.0.2.78"), code=gate.code).status_code == 303


def test_many_addresses_together_have_to_wait(gated):
    app, gate, _ = gated
    for last in range(10):
        assert enter(browser(app, address=f"198.51.100.{last}"), code="AAAA-AAAA").status_code == 403
    assert enter(browser(app), code=gate.code).status_code == 429


def test_who_scanned_the_picture_need_not_wait_for_what_others_guess_at(gated):
    app, gate, _ = gated
    for last in range(30):
        enter(browser(app, address=f"198.51.100.{last}"), code="AAAA-AAAA")
    assert enter(browser(app), code=gate.code).status_code == 429
    assert enter(browser(app), token=gate.entry_link().partition("#")[2]).status_code == 303
    guesser = browser(app, address="192.0.2.99")
    for _ in range(2):
        enter(guesser, token="0" * 32)
    assert enter(guesser, token=gate.entry_link().partition("#")[2]).status_code == 429


def test_whatever_is_guessed_the_computer_itself_is_never_asked(gated):
    app, _, _ = gated
    for last in range(40):
        enter(browser(app, HERE, "127.0.0.1"), origin=HERE, code="AAAA-AAAA")
        enter(browser(app, address=f"198.51.100.{last}"), code="AAAA-AAAA")
    assert browser(app, HERE, "127.0.0.1").get("/").status_code == 200


def test_a_forged_forwarding_header_is_no_new_address_to_guess_from(gated):
    app, _, _ = gated
    client = browser(app)
    tried = [
        client.post("/enter", data={"code": "AAAA"}, headers={"origin": SHOP, "x-forwarded-for": f"10.0.0.{last}"})
        for last in range(3)
    ]
    assert [answer.status_code for answer in tried] == [403, 403, 429]


# What the page that asks says


def test_the_way_in_says_that_nothing_is_encrypted_and_loads_nothing_from_elsewhere(gated):
    answer = browser(gated[0]).get("/enter", headers=HTML)
    assert "Not encrypted" in answer.text
    assert "network" in answer.text
    assert "//" not in answer.text.replace("<!DOCTYPE html>", "")
    assert answer.headers["cache-control"] == "no-store"
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    for path in ("/enter.css", "/enter.js"):
        assert browser(gated[0]).get(path).status_code == 200


def test_secrets_stand_in_no_repr(gated):
    _, gate, _ = gated
    token = gate.entry_link().partition("#")[2]
    told = repr(gate) + repr(gate.codes) + repr(gate.sessions) + repr(gate.settings)
    assert gate.code not in told
    assert token not in told
