"""The queue between interrupt and main loop: the newest blocks in order, and an honest count of the rest."""

import pytest

import wire_vectors as vectors
from rodtrue_protocol.table import TABLE

ONE_SAMPLE = TABLE.messages["sample_block"].head_size + 4


@pytest.mark.parametrize(("pushed", "kept", "dropped"), [(0, [], 0), (3, [0, 1, 2], 0), (4, [0, 1, 2, 3], 0),
                                                        (5, [1, 2, 3, 4], 1), (11, [7, 8, 9, 10], 7)])  # fmt: skip
def test_a_full_queue_keeps_the_newest_blocks_in_order_and_counts_the_others(pushed, kept, dropped):
    answer = vectors.on_micropython("queue", {"capacity": 4, "pushed": pushed})
    assert (answer["waiting"], answer["dropped"]) == (len(kept), dropped)
    assert answer["taken"] == [[number, ONE_SAMPLE] for number in kept]
    assert answer["cleared"] == [0, 0]


def test_the_count_of_dropped_blocks_stays_at_its_fields_most_and_does_not_begin_anew():
    assert vectors.on_micropython("queue", {"capacity": 4, "pushed": 4 + 65_535})["dropped"] == 65_535
    assert vectors.on_micropython("queue", {"capacity": 4, "pushed": 4 + 65_600})["dropped"] == 65_535
