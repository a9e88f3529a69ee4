"""What is fuzzed: for each reader, how an input is made from valid ones, and what it may do with it.

A reader may read, or refuse with `InputError` or `FixtureError`. `tell` returns a word for what came of an input;
anything else that it raises is a finding.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from random import Random
from typing import Any

import msgspec

import rodtrue_protocol as wire
from fuzz import corpus_seeds as seeds
from fuzz.mutation import as_json, mutate, mutate_document, mutate_text
from fuzz.parser_child import ParserChild
from rodtrue.capture.csv_file import read_columns, read_samples
from rodtrue.capture.framing import ENTRY, FIRST_LINE, RECEIVED, Item, encode_item
from rodtrue.capture.reader import read_capture
from rodtrue.cli.dump import dump
from rodtrue.cli.stored_run import read_stored_runs
from rodtrue.judging import CsvAnswers, encode, judge_capture, judge_csv
from rodtrue.linkage import linkage_of
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.profiles import load_profile
from rodtrue.records.backup import restore
from rodtrue.records.store import open_records
from rodtrue.report import read_job, report_pdf
from rodtrue.shifts.effect import expected_effect
from rodtrue_protocol.framing import open_frame

JUDGED_SHARE = 0.1
"""Share of the files that are read well which are judged too: judging takes a hundred times as long."""
REPORTED_SHARE = 0.02

TRUTH_MM = -2.5
"""Rod error of the short run's plant."""

Tell = Callable[[bytes], str]


@dataclass(frozen=True)
class Target:
    """make: an input from a generator of random numbers. tell: a context in which inputs are handed over."""

    name: str
    make: Callable[[Random], bytes]
    open: Callable[[Path], contextlib.AbstractContextManager[Tell]]


def outcome(tell: Tell, data: bytes) -> str:
    """Return what came of an input. Raises: whatever is not documented."""
    try:
        return tell(data)
    except (InputError, FixtureError) as error:
        assert error.message and error.next_step, "an error that says nothing"
        return "refused"


def _chosen(data: bytes, share: float) -> bool:
    """Say whether this input is among the share that is looked at more closely; the same input always is."""
    return int.from_bytes(sha256(data).digest()[:4], "big") < share * 2**32


# ---- the wire


def _mutated_frame(rng: Random, frame: bytes, others: list[bytes]) -> bytes:
    """Return a frame with a changed body under a sound check, or a changed frame."""
    body = open_frame(frame.rstrip(b"\0"))
    if isinstance(body, bytes) and rng.random() < 0.6:
        message_type, sequence, payload = body[0], body[1], body[2:-4]
        if rng.random() < 0.2:
            message_type = rng.randrange(256)
        payload = mutate(rng, payload, [payload])[:254] if rng.random() < 0.9 else payload
        return wire.frame(message_type, sequence, payload)
    return mutate(rng, frame, others)


def _stream(rng: Random, all_streams: list[bytes]) -> bytes:
    """Return a stream of whole and changed frames."""
    pieces = []
    for frame in rng.choice(all_streams).split(b"\0")[:-1]:
        whole = frame + b"\0"
        pieces.append(_mutated_frame(rng, whole, all_streams) if rng.random() < 0.3 else whole)
    stream = b"".join(pieces)
    return mutate(rng, stream, all_streams) if rng.random() < 0.5 else stream


@contextmanager
def _decoder(_: Path) -> Iterator[Tell]:
    def tell(data: bytes) -> str:
        decoder = wire.Decoder()
        events = decoder.feed(data)
        blocks = [event for event in events if isinstance(event, wire.SampleBlock)]
        log = wire.decode_log(data)
        assert log.heads["index"].tolist() == [block.index for block in blocks]
        assert log.codes.tobytes() == b"".join(block.codes.astype("<u2").tobytes() for block in blocks)
        events += decoder.finish()
        _every_byte_counts(data, events, decoder.counters)
        pieces = wire.Decoder()
        rng = Random(len(data))
        split, at = [], 0
        while at < len(data):
            size = rng.choice((1, 3, 64, 4096))
            split += pieces.feed(data[at : at + size])
            at += size
        assert split + pieces.finish() == events, "another split gave other events"
        for event in events:
            repr(event)
        return "damage told" if any(isinstance(event, wire.Refused) for event in events) else "read"

    yield tell


def _every_byte_counts(data: bytes, events: list[wire.Event], counters: wire.Counters) -> None:
    sound = (event for event in events if isinstance(event, (wire.WireMessage, wire.UnknownMessage)))
    refused_sound = sum(len(e.raw) for e in events if isinstance(e, wire.Refused) and e.reason == "bad_length")
    framed = sum(len(event.raw) for event in sound) + refused_sound
    assert counters.skipped_bytes + counters.text_bytes + framed == len(data) - data.count(0)


@contextmanager
def _firmware(folder: Path) -> Iterator[Tell]:
    replies = {message.type: message.reply for message in wire.TABLE.by_type("to_fixture").values()}
    with ParserChild(folder) as child:

        def tell(data: bytes) -> str:
            sent, refused_frames, left = child.answer(data, unsealed=len(data) % 2 == 0)
            runs = [run for run in data.split(b"\0")[:-1] if run]
            bodies = [open_frame(run) for run in runs]
            requests = [body for body in bodies if isinstance(body, bytes)]
            assert left == 0, "bytes left unread"
            assert refused_frames == len(runs) - len(requests), "refused frames miscounted"
            decoder = wire.Decoder()
            events = decoder.feed(sent) + decoder.finish()
            assert not any(isinstance(event, (wire.Refused, wire.Text, wire.UnknownMessage)) for event in events)
            said = [event for event in events if isinstance(event, wire.WireMessage) and _is_reply(event)]
            assert [event.request for event in said] == [body[1] for body in requests], "not one reply a request"
            for body, event in zip(requests, said, strict=True):
                if isinstance(event, wire.Reject):
                    assert event.request_type == body[0]
                    assert event.code in list(wire.RejectCode)
                else:
                    assert replies.get(body[0]) == event.NAME
            return "damage told" if refused_frames else "answered" if said else "nothing to answer"

        yield tell


def _is_reply(event: wire.WireMessage) -> bool:
    unasked = isinstance(event, wire.Status) and not event.flags & wire.StatusFlags.ANSWER
    return not unasked and hasattr(event, "request")


# ---- files


def _capture_bytes(rng: Random) -> bytes:
    data = seeds.CAPTURE.read_bytes()
    if rng.random() < 0.35:
        return mutate(rng, data, [data])
    items = list(read_capture(seeds.CAPTURE).items)
    if rng.random() < 0.5:
        items = items[: rng.choice((4, 30, 120))]
    for _ in range(1 + int(rng.expovariate(0.5))):
        _change_item(rng, items)
    return FIRST_LINE + b"".join(encode_item(item) for item in items)


def _change_item(rng: Random, items: list[Item]) -> None:
    """Change one item under a sound check, lose it, repeat it or put it elsewhere."""
    if not items:
        return
    entries = [k for k, item in enumerate(items) if item.kind == ENTRY]
    at = rng.choice(entries) if entries and rng.random() < 0.6 else rng.randrange(len(items))
    item = items[at]
    kind, host_us, index, payload = item.kind, item.host_time_us, item.sample_index, item.payload
    what = rng.random()
    if what < 0.1:
        del items[at]
    elif what < 0.2:
        items.insert(rng.randrange(len(items) + 1), items[at])
    elif what < 0.3:
        host_us = rng.choice((0, 1, 2**63, 2**64 - 1, host_us + 1))
        index = rng.choice((0, 2**31, 2**32 - 1, index + 1))
        items[at] = Item(rng.choice((kind, 0, 1, 2, 3, 255)), host_us, index, payload)
    elif kind == ENTRY and what < 0.9 and (document := _document(payload)) is not None:
        items[at] = Item(kind, host_us, index, as_json(mutate_document(rng, document)))
    elif kind == RECEIVED:
        items[at] = Item(kind, host_us, index, _mutated_frame(rng, payload + b"\0", [payload]).rstrip(b"\0"))
    else:
        items[at] = Item(kind, host_us, index, mutate(rng, payload, [payload]))


def _document(payload: bytes) -> Any:
    """Return the JSON in a payload, None where an earlier change has left none."""
    with contextlib.suppress(ValueError):
        return json.loads(payload)
    return None


@contextmanager
def _capture(folder: Path) -> Iterator[Tell]:
    path = folder / "input.capture"

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        with contextlib.redirect_stdout(io.TextIOWrapper(io.BytesIO(), "utf-8")):
            dump(path, csv=None, force=False, as_json=len(data) % 2 == 0)
        capture = read_capture(path)
        samples = capture.samples()
        assert (samples.time_s[1:] > samples.time_s[:-1]).all(), "time stands still or goes back"
        capture.conditions(), capture.fixture(), capture.cautions, capture.profile
        if not _chosen(data, JUDGED_SHARE):
            return "read"
        result = judge_capture(capture)
        encode(result)
        return f"judged: {result.verdict}"

    yield tell


def _damaged_bytes(rng: Random) -> bytes:
    data = seeds.CAPTURE.read_bytes()
    if rng.random() < 0.7:  # the head is where most notes are
        return data[:50] + mutate(rng, data[50:3000], [data]) + data[3000:]
    return mutate(rng, data, [data])


@contextmanager
def _damaged(folder: Path) -> Iterator[Tell]:
    """A capture that was damaged on the disk: whatever is left, the verdict is its truth's or none."""
    path = folder / "input.capture"

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        result = judge_capture(read_capture(path))
        assert result.verdict in ("short", "undecided", "no result"), f"a short rod was called {result.verdict}"
        if result.rod_error is not None and result.rod_error.interval_mm is not None:
            low, high = result.rod_error.interval_mm
            assert low <= TRUTH_MM <= high, f"the interval {low} to {high} leaves the truth out"
        return f"judged: {result.verdict}"

    yield tell


def _csv_bytes(rng: Random) -> bytes:
    texts = seeds.csvs()
    text = texts[0] if rng.random() < 0.1 else rng.choice(texts[1:])
    return mutate_text(rng, text, texts[2:]) if rng.random() < 0.9 else mutate(rng, text.encode(), [text.encode()])


@contextmanager
def _csv(folder: Path) -> Iterator[Tell]:
    path = folder / "input.csv"
    profile = load_profile()

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        samples = read_samples(path)
        assert len(samples) and all(math.isfinite(value) for value in (samples.time_s.sum(), samples.travel_mm.sum()))
        read_columns(path, ["travel_mm", "pressure_kpa"])
        if not _chosen(data, JUDGED_SHARE):
            return "read"
        result = judge_csv(path, profile, CsvAnswers())
        encode(result)
        return f"judged: {result.verdict}"

    yield tell


def _profile_bytes(rng: Random) -> bytes:
    texts = seeds.profiles()
    return mutate_text(rng, rng.choice(texts), texts)


@contextmanager
def _profile(folder: Path) -> Iterator[Tell]:
    path = folder / "input.toml"
    csv = folder / "run.csv"
    csv.write_text(seeds.csvs()[1], "utf-8")

    def tell(data: bytes) -> str:
        path.write_bytes(data)
        profile = load_profile(str(path))
        linkage_of(profile)
        for error_mm in (-15.0, 0.0, 12.0):
            expected_effect(profile, error_mm)
        if not _chosen(data, JUDGED_SHARE):
            return "read"
        result = judge_csv(csv, profile, CsvAnswers())
        encode(result)
        return f"judged: {result.verdict}"

    yield tell


def _backup_bytes(rng: Random) -> bytes:
    """Return a backup changed byte by byte, or in its members with their digests put right again."""
    whole = seeds.backup()
    if rng.random() < 0.3:
        return mutate(rng, whole, [whole])
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    contents = json.loads(members["contents.json"])
    kept = json.loads(members["jobs.jsonl"])
    what = rng.random()
    if what < 0.5:
        kept["document"] = as_json(mutate_document(rng, json.loads(kept["document"]))).decode()
        kept["digest"] = sha256(kept["document"].encode()).hexdigest()
    elif what < 0.7:
        kept = mutate_document(rng, kept)
    elif what < 0.9:
        contents = mutate_document(rng, contents)
    members["jobs.jsonl"] = as_json(kept) + b"\n"
    if rng.random() < 0.1:
        members["jobs.jsonl"] = mutate(rng, members["jobs.jsonl"], [b"\n"])
    if isinstance(contents, dict) and rng.random() < 0.9:
        contents["jobs_sha256"] = sha256(members["jobs.jsonl"]).hexdigest()
    members["contents.json"] = as_json(contents)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return made.getvalue()


def _record_bytes(rng: Random) -> bytes:
    if rng.random() < 0.5:
        return _backup_bytes(rng)
    if rng.random() < 0.7:
        return as_json(mutate_document(rng, seeds.job()))
    text = as_json(seeds.job()).decode()
    return mutate_text(rng, text, [text])


@contextmanager
def _record(folder: Path) -> Iterator[Tell]:
    job_path, backup_path = folder / "job.json", folder / "input.backup"

    def tell(data: bytes) -> str:
        return restored(data) if data[:2] == b"PK" else shown(data)

    def restored(data: bytes) -> str:
        backup_path.write_bytes(data)
        try:
            restore(records, backup_path, folder / "captures")
        except InputError:
            assert records.count() == 0, "refused, yet something was put back"
            raise
        read_and_forget()
        return "restored"

    def read_and_forget() -> None:
        """Read every job that is kept as it comes back, and leave the records empty for the next input."""
        for number in {row.job for row in records.runs()}:
            records.job(number)
            records.delete(number)
        assert records.count() == 0

    def shown(data: bytes) -> str:
        job_path.write_bytes(data)
        with contextlib.suppress(InputError):
            read_stored_runs(job_path)
        job = read_job(job_path)
        if job.schema == "rodtrue.job/1":
            records.save(job)
            read_and_forget()
        if not _chosen(data, REPORTED_SHARE):
            return "read"
        msgspec.json.encode(job)
        report_pdf(job)
        return "reported"

    with open_records(str(folder / "records.sqlite")) as records:
        yield tell


def _from(streams: Callable[[], list[bytes]]) -> Callable[[Random], bytes]:
    return lambda rng: _stream(rng, streams())


TARGETS = {
    target.name: target
    for target in (
        Target("decoder", _from(lambda: seeds.frames("from_fixture")), _decoder),
        Target("firmware", _from(seeds.requests), _firmware),
        Target("capture", _capture_bytes, _capture),
        Target("damaged-capture", _damaged_bytes, _damaged),
        Target("csv", _csv_bytes, _csv),
        Target("profile", _profile_bytes, _profile),
        Target("records", _record_bytes, _record),
    )
}
