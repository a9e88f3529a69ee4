"""Damaged frames taken for good by the decoder: `python -m bench.line_escapes --samples 1e8`.

Sample blocks over a line with bit errors of five rates. Then the same counting with the
check cut to 8 bits (a double in its place) and each body with its check replaced by random bytes: of those, 1 in 256
must escape, within 3 standard deviations.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from line_faults.escapes import Count, bit_errors, eight_bit_check, random_bodies, sound_frames

SHARES = {1e-6: 0.3, 1e-5: 0.3, 1e-4: 0.3, 1e-3: 0.08, 1e-2: 0.02}
"""Bit errors, and the share of the samples: a stream in which every frame is damaged is slow to search."""
BLOCKS = 10_000
RANDOM_BLOCKS = 100_000


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--samples", type=float, default=1e8)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    rng = np.random.default_rng(given.seed)
    frames = sound_frames(rng, BLOCKS)
    print("| bit errors | samples | frames damaged | escaped | sound frames lost | s |")
    print("| --- | --- | --- | --- | --- | --- |")
    whole = Count()
    for rate, share in SHARES.items():
        began, count = time.process_time(), Count()
        while count.samples < share * given.samples:
            count.add(bit_errors(rng, frames, rate))
        whole.add(count)
        took = time.process_time() - began
        told = f"{count.samples:.3g} | {count.damaged} | {count.escaped} | {count.lost_sound} | {took:.0f}"
        print(f"| {rate:g} | {told} |", flush=True)
    print(f"\n{whole.samples:.4g} samples, {whole.damaged} damaged frames, {whole.escaped} escaped.\n")
    cut = Count()
    with eight_bit_check():
        while cut.damaged < RANDOM_BLOCKS:
            cut.add(random_bodies(rng, BLOCKS))
    expected = cut.damaged / 256
    sigma = math.sqrt(expected * 255 / 256)
    print(
        f"Check cut to 8 bits: {cut.damaged} random frames reached it, {cut.escaped} escaped; 1/256 is "
        f"{expected:.1f}, {(cut.escaped - expected) / sigma:+.2f} standard deviations off. {cut.salvaged} ends of "
        f"frames were taken for frames. Seed {given.seed}."
    )


if __name__ == "__main__":
    main()
