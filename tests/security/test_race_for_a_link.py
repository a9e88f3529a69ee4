"""Many who scanned the same picture at once: one comes in."""

import http.client
import threading
from urllib.parse import urlencode

import pytest

from page.real_page import LONGEST_S, served

pytestmark = pytest.mark.slow


def test_of_many_who_use_one_link_at_the_same_moment_one_is_let_in(tmp_path):
    with served(tmp_path) as page:
        token = page.links[0].partition("#")[2]
        start, statuses = threading.Barrier(8), []

        def come_in():
            line = http.client.HTTPConnection("127.0.0.1", page.port, timeout=LONGEST_S)
            headers = {
                "Host": page.shop.removeprefix("http://"),
                "Origin": page.shop,
                "Content-Type": "application/x-www-form-urlencoded",
            }
            start.wait()
            line.request("POST", "/enter", urlencode({"token": token}), headers)
            statuses.append(line.getresponse().status)
            line.close()

        race = [threading.Thread(target=come_in) for _ in range(8)]
        for one in race:
            one.start()
        for one in race:
            one.join()
        assert statuses.count(303) == 1
        assert set(statuses) <= {303, 403, 429}
