"""What a large micrograph costs: `python -m tests.benchmarks.micrograph_speed`.

24 megapixels of 16 bit, against decoding them and one conversion to float (of 8 bytes, and of 4).
TIFF without compression is the dearest case: its bytes are mapped and not decoded. Times are of
the processor, the least of five; memory is the most that the
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


def least(work, times=5):
    """Processor seconds of `work`, the least of some."""
    took = []
    for _ in range(times):
        start = time.process_time()
        work()
        took.append(time.process_time() - start)
    return min(took)


def decode(path, kind):
    """What Pillow and one conversion to float take."""
    with Image.open(path) as image:
        image.load()
        return np.asarray(image).astype(kind)


def ratios(path):
    """Time to read the picture in `path`, over those to decode it into floats of 8 and 4 bytes."""
    findings = load().findings
    took = least(lambda: analyse((read_picture(path),), findings))
    return [took / least(lambda k=kind: decode(path, k)) for kind in (np.float64, np.float32)]


def large(folder, suffix="tif"):
    """A picture of 24 megapixels in `folder`."""
    rng = np.random.default_rng(0)
    rough = np.kron(rng.normal(30000, 6000, (125, 125)), np.ones((8, 8)))
    tile = np.clip(rough + rng.normal(0, 1500, rough.shape), 0, 65535).astype(np.uint16)
    pixels = np.tile(tile, (SHAPE[0] // 1000, SHAPE[1] // 1000))
    path = folder / f"large.{suffix}"
    Image.fromarray(pixels).save(path)
    return path


def memory():
    """The most that this process ever held, in bytes."""
    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return held if sys.platform == "darwin" else 1024 * held


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        for suffix in ("tif", "png"):
            wide, narrow = ratios(large(Path(folder), suffix))
            print(f"24 megapixels, 16 bit, {suffix}: {wide:.1f} and {narrow:.1f} times")
        print(f"most memory, with making the picture: {memory() / 1e6:.0f} MB")
