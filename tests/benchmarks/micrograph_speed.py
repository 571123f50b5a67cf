"""What a large micrograph costs: `python -m tests.benchmarks.micrograph_speed`.

24 megapixels of 16 bit, TIFF without compression, against decoding it: the dearest case, since
that is next to nothing. Times are of the processor, the least of five; memory is the most that the
process ever held.
"""

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

from troubleshoot.knowledge.load import load
from troubleshoot.readings.image.micrograph import analyse
from troubleshoot.sources.image_file import read_picture

SHAPE = (4000, 6000)
MOST_TIMES, MOST_BYTES = 5.0, 1e9


def least(work, times=5):
    """Processor seconds of `work`, the least of some."""
    took = []
    for _ in range(times):
        start = time.process_time()
        work()
        took.append(time.process_time() - start)
    return min(took)


def decode(path):
    """What Pillow and one conversion to float take."""
    with Image.open(path) as image:
        image.load()
        return np.asarray(image).astype(np.float32)


def ratio(path):
    """Time to read the picture in `path`, over the time to decode it and turn it into float."""
    findings = load().findings
    return least(lambda: analyse((read_picture(path),), findings)) / least(lambda: decode(path))


def large(folder):
    """A picture of 24 megapixels in `folder`."""
    rng = np.random.default_rng(0)
    rough = np.kron(rng.normal(30000, 6000, (125, 125)), np.ones((8, 8)))
    tile = np.clip(rough + rng.normal(0, 1500, rough.shape), 0, 65535).astype(np.uint16)
    pixels = np.tile(tile, (SHAPE[0] // 1000, SHAPE[1] // 1000))
    path = folder / "large.tif"
    Image.fromarray(pixels).save(path)
    return path


def memory():
    """The most that this process ever held, in bytes."""
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return held if sys.platform == "darwin" else 1024 * held


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        made = large(Path(folder))
        print(f"24 megapixels, 16 bit: {ratio(made):.1f} times decoding and one conversion")
        print(f"most memory, with making the picture: {memory() / 1e6:.0f} MB")
