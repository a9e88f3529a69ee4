"""Codes, tokens, sessions and the wait after wrong ones, with a clock and randomness of the test's own."""

import re
from random import Random, SystemRandom

import pytest

from page.access_app import StillClock
from rodtrue.page.access.attempts import MOST_ADDRESSES, Attempts
from rodtrue.page.access.codes import ALPHABET, CODE_LENGTH, MOST_TOKENS, Codes
from rodtrue.page.access.qr import qr_svg, qr_text
from rodtrue.page.access.rights import Viewer, may
from rodtrue.page.access.sessions import MOST_SESSIONS, Sessions


@pytest.fixture
def clock():
    return StillClock()


def test_a_code_is_two_groups_without_characters_taken_for_one_another(clock):
    for seed in range(200):
        assert re.fullmatch(r"[A-Z2-9]{4}-[A-Z2-9]{4}", Codes(clock, Random(seed)).code)
    assert not set(ALPHABET) & set("ILO01")


def test_guessing_at_the_longest_wait_takes_longer_than_a_program_runs(clock):
    # NIST SP 800-63B asks of a short secret that guessing be throttled (100 failures an account; from memory). Here
    # a day at the longest wait for all together, 60 s, is 1440 tries, which find one of 31^8 codes with a chance
    # below one in five hundred million.
    assert len(ALPHABET) ** CODE_LENGTH / 1440 > 5e8


def test_every_program_has_a_code_of_its_own(clock):
    assert len({Codes(clock, SystemRandom()).code for _ in range(50)}) == 50


def test_the_oldest_of_many_tokens_gives_way(clock):
    codes = Codes(clock, Random(1))
    tokens = [codes.new_token() for _ in range(MOST_TOKENS + 1)]
    assert not codes.use_token(tokens[0])
    assert codes.use_token(tokens[1])
    assert codes.use_token(tokens[-1])


def test_a_new_code_voids_what_was_given_out_before(clock):
    codes = Codes(clock, Random(1))
    code, token = codes.code, codes.new_token()
    codes.renew()
    assert codes.code != code
    assert not codes.is_code(code)
    assert not codes.use_token(token)


def test_the_wait_doubles_with_each_wrong_try_up_to_a_quarter_of_an_hour(clock):
    attempts = Attempts(clock)
    waits = []
    for _ in range(15):
        clock.pass_s(attempts.wait_s("192.0.2.1"))
        attempts.wrong("192.0.2.1")
        waits.append(attempts.wait_s("192.0.2.1"))
    alone = [0.0, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 512.0, 900.0, 900.0, 900.0, 900.0]
    assert waits == alone


def test_all_addresses_together_wait_at_most_a_minute(clock):
    attempts = Attempts(clock)
    waits = []
    for guesser in range(25):
        clock.pass_s(attempts.wait_s(f"192.0.2.{guesser}"))
        attempts.wrong(f"192.0.2.{guesser}")
        waits.append(attempts.wait_s("198.51.100.1"))
    assert waits[:9] == [0.0] * 9
    assert waits[9:] == [1.0, 2.0, 4.0, 8.0, 16.0, 32.0] + [60.0] * 10


def test_wrong_tries_are_forgotten_after_an_hour_without_one_and_for_an_address_by_the_right_code(clock):
    attempts = Attempts(clock)
    for _ in range(3):
        attempts.wrong("192.0.2.1")
    attempts.right("192.0.2.1")
    attempts.wrong("192.0.2.1")
    assert attempts.wait_s("192.0.2.1") == 0.0
    for _ in range(3):
        attempts.wrong("192.0.2.1")
    clock.pass_s(3601.0)
    attempts.wrong("192.0.2.1")
    assert attempts.wait_s("192.0.2.1") == 0.0


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),  # RFC 4291, 2.5.4: one host may have a whole /64
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("192.0.2.1", "::ffff:192.0.2.1", True),
        ("192.0.2.1", "192.0.2.2", False),
        ("fe80::1%eth0", "fe80::2%eth0", True),
        ("", "somewhere", False),
    ],
)
def test_one_guesser_is_one_host_however_many_addresses_it_has(clock, first, second, same):
    attempts = Attempts(clock)
    for _ in range(2):
        attempts.wrong(first)
    assert (attempts.wait_s(second) > 0.0) == same


def test_a_flood_of_addresses_fills_no_memory_and_all_of_them_wait(clock):
    attempts = Attempts(clock)
    for guesser in range(2 * MOST_ADDRESSES):
        attempts.wrong(f"10.0.{guesser // 256}.{guesser % 256}")
    assert len(attempts) == MOST_ADDRESSES
    assert attempts.wait_s("192.0.2.1") == 60.0


def test_sessions_are_many_at_most_and_the_longest_unseen_gives_way(clock):
    sessions = Sessions(clock, Random(1))
    names = [sessions.begin()]
    for _ in range(MOST_SESSIONS):
        clock.pass_s(1.0)
        names.append(sessions.begin())
    assert len(sessions) == MOST_SESSIONS
    assert not sessions.see(names[0])
    assert sessions.see(names[1])


def test_a_session_is_not_kept_open_by_being_asked_about(clock):
    sessions = Sessions(clock, Random(1))
    name = sessions.begin()
    for _ in range(3):
        clock.pass_s(1500.0)
        sessions.is_open(name)
    assert not sessions.see(name)


REMOTE, LOCAL = Viewer(local=False, address="192.0.2.77"), Viewer(local=True, address="127.0.0.1")


@pytest.mark.parametrize("action", ["store_calibration", "install_firmware", "delete", "acknowledge_cautions"])
def test_what_can_hurt_or_lose_something_takes_a_person_at_the_computer(action):
    assert not may(REMOTE, action)
    assert may(LOCAL, action)


def test_a_remote_viewer_never_sees_the_code_nor_ends_the_others_sessions():
    assert not may(REMOTE, "see_access_code")
    assert not may(REMOTE, "end_sessions")


def test_a_remote_viewer_may_follow_and_answer_the_run():
    assert all(may(REMOTE, action) for action in ("look", "answer_steps", "steer_virtual_fixture", "download_report"))


def test_an_action_nobody_thought_of_is_no_ones():
    with pytest.raises(KeyError):
        may(REMOTE, "format_disk")


def test_the_qr_drawings_have_the_quiet_zone_of_the_standard():
    # ISO/IEC 18004 (from memory): a quiet zone 4 modules wide on all sides; version V has 17 + 4 V modules a side.
    link = "http://192.0.2.20:8713/enter#" + 32 * "0"
    side = int(re.search(r'viewBox="0 0 (\d+) \1"', qr_svg(link)).group(1)) / 8 - 8
    assert side in {17 + 4 * version for version in range(1, 41)}
    rows = qr_text(link).splitlines()
    assert max(map(len, rows)) >= side + 8
