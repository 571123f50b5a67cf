"""Pictures that cannot be read: one sentence each, exit 2."""

import struct
import zlib

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image, TiffImagePlugin

from troubleshoot.errors import UserError
from troubleshoot.sources.image_file import is_image, read_picture
from troubleshoot.training.micrograph import micrograph

GREY = micrograph("clean", seed=1, shape=(120, 160))


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def huge_header():
    """A PNG that says it has 1e9 pixels and holds none."""
    head = struct.pack(">IIBBBBB", 40000, 25000, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")


def write(path, what):
    image = Image.fromarray(GREY)
    if what == "text":
        path.write_text("no picture at all")
    elif what == "empty":
        path.write_bytes(b"")
    elif what == "truncated":
        image.save(path)
        path.write_bytes(path.read_bytes()[:4000])
    elif what == "huge":
        path.write_bytes(huge_header())
    elif what == "palette":
        image.convert("P").save(path)
    elif what == "alpha":
        image.convert("LA").save(path)
    elif what == "animated":
        image.save(path, format="TIFF", save_all=True, append_images=[image])
    elif what == "black":
        Image.fromarray(np.zeros_like(GREY)).save(path)
    elif what == "colour":
        Image.fromarray(np.dstack([GREY, GREY // 2, 255 - GREY])).save(path)
    elif what == "tiny":
        Image.fromarray(GREY[:20, :20]).save(path)
    elif what == "float":
        Image.fromarray(GREY.astype(np.float32)).save(path, format="TIFF")
    elif what == "bilevel":
        image.convert("1").save(path)
    elif what == "printer":
        image.convert("CMYK").save(path, format="JPEG")
    elif what == "strip":
        Image.fromarray(np.tile(GREY, (1, 12))).save(path)
    elif what == "enlarged":
        image.resize((480, 360), Image.Resampling.NEAREST).save(path)
    elif what == "a little enlarged":
        image.resize((160, 156), Image.Resampling.NEAREST).save(path)
    elif what == "gif":
        image.save(path, format="GIF")


BAD = {
    "text": "not a picture that can be read",
    "empty": "not a picture that can be read",
    "truncated": "cut off or damaged",
    "huge": "more pixels than any micrograph has",
    "palette": "stand in a palette",
    "alpha": "transparent layer",
    "animated": "it holds 2 pictures",
    "black": "all black",
    "colour": "a colour photograph",
    "tiny": "too few",
    "float": "floating-point numbers",
    "bilevel": "black and white only",
    "printer": "those of a printer",
    "strip": "are a strip",
    "enlarged": "was enlarged after it was taken",
    "a little enlarged": "was enlarged after it was taken",
    "gif": "GIF is not a format",
}


@pytest.mark.parametrize("what", BAD)
def test_it_is_refused_in_one_sentence(what, tmp_path):
    path = tmp_path / "picture.png"
    write(path, what)
    with pytest.raises(UserError) as told:
        read_picture(path)
    said = str(told.value)
    assert BAD[what].replace("more pixels than", "") in said or BAD[what] in said
    assert said.startswith(str(path))
    assert "\n" not in said


def test_the_command_ends_with_two(tmp_path):
    from troubleshoot.__main__ import main

    path = tmp_path / "picture.png"
    write(path, "palette")
    with pytest.raises(SystemExit) as ended:
        main(["read", str(path)])
    assert ended.value.code == 2


@pytest.mark.parametrize(
    ("kind", "suffix"), [("L", "png"), ("L", "jpg"), ("RGB", "png"), ("L", "tif")]
)
def test_grey_is_read_from_every_format(kind, suffix, tmp_path):
    path = tmp_path / f"picture.{suffix}"
    Image.fromarray(GREY).convert(kind).save(path)
    picture = read_picture(path)
    assert np.abs(picture.pixels.astype(int) - GREY).max() <= (40 if suffix == "jpg" else 0)
    assert picture.lossy == (suffix == "jpg")


def test_a_palette_of_a_tiff_in_which_each_level_is_its_own_grey_says_nothing(tmp_path):
    """So some microscopes save; a palette that maps levels elsewhere is refused all the same."""
    path = tmp_path / "picture.tif"
    image = Image.fromarray(GREY).convert("P")
    image.save(path)
    assert np.array_equal(read_picture(path).pixels, GREY)
    image.putpalette([255 - n // 3 for n in range(768)])
    image.save(path)
    with pytest.raises(UserError, match="palette"):
        read_picture(path)


def test_a_coloured_label_is_no_colour_photograph(tmp_path):
    path = tmp_path / "picture.png"
    pixels = np.dstack([GREY] * 3)
    pixels[5:15, 5:40] = (255, 255, 0)
    Image.fromarray(pixels).save(path)
    assert read_picture(path).shape == GREY.shape


def test_a_picture_is_known_by_its_name_or_its_first_bytes(tmp_path):
    Image.fromarray(GREY).save(tmp_path / "picture.dat", format="PNG")
    (tmp_path / "log.csv").write_text("time,pressure\n0,1\n")
    assert is_image(tmp_path / "picture.dat")
    assert is_image(tmp_path / "missing.tif")
    assert not is_image(tmp_path / "log.csv")


def test_a_dark_picture_is_not_taken_for_a_bar(tmp_path):
    """A dark ground that fades into the specimen ends nowhere sharply."""
    ramp = np.linspace(1.0, 0.0, 120)[:, None] * GREY
    Image.fromarray(ramp.astype(np.uint8)).save(tmp_path / "dark.png")
    assert read_picture(tmp_path / "dark.png").bar is None


def test_no_runner_is_needed_for_help():
    from troubleshoot.__main__ import cli

    assert "PICTURE" in CliRunner().invoke(cli, ["read", "--help"]).output


def bare_tiff(pixels, *, end="<", strips=1, gap=0, orientation=1, sample=1):
    """A TIFF without compression as the standard (TIFF 6.0, 1992) lays it out, by hand."""
    rows, columns = pixels.shape
    each = -(-rows // strips)
    strips = -(-rows // each)
    bits = 8 * pixels.itemsize
    order = pixels.dtype.newbyteorder(end)
    blocks = [pixels[n * each : (n + 1) * each].astype(order).tobytes() for n in range(strips)]
    offsets, at = [], 8
    for block in blocks:
        offsets.append(at)
        at += len(block) + gap
    body = b"".join(block + bytes(gap) for block in blocks)
    lists = b"".join(struct.pack(f"{end}{strips}I", *v) for v in (offsets, map(len, blocks)))
    places = (at, at + 4 * strips) if strips > 1 else (offsets[0], len(blocks[0]))
    tags = [(256, columns), (257, rows), (258, bits), (259, 1), (262, 1), (274, orientation)]
    tags += [(339, sample)]
    entries = [struct.pack(f"{end}HHII", t, 4, 1, v) for t, v in tags]
    entries += [struct.pack(f"{end}HHII", 273, 4, strips, places[0])]
    entries += [struct.pack(f"{end}HHII", t, 4, 1, v) for t, v in ((277, 1), (278, each))]
    entries += [struct.pack(f"{end}HHII", 279, 4, strips, places[1])]
    entries.sort(key=lambda e: struct.unpack(f"{end}H", e[:2]))
    head = {"<": b"II*\0", ">": b"MM\0*"}[end] + struct.pack(f"{end}I", at + len(lists))
    directory = struct.pack(f"{end}H", len(entries)) + b"".join(entries) + bytes(4)
    return head + body + lists + directory


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
@pytest.mark.parametrize("end", ["<", ">"])
@pytest.mark.parametrize(("strips", "gap"), [(1, 0), (7, 0), (7, 3)])
def test_a_tiff_without_compression_is_read_as_it_lies(kind, end, strips, gap, tmp_path):
    """In one piece, in strips, in strips with gaps between them, and of either byte order."""
    grey = GREY.astype(kind) * (1 if kind is np.uint8 else 257)
    (tmp_path / "bare.tif").write_bytes(bare_tiff(grey, end=end, strips=strips, gap=gap))
    picture = read_picture(tmp_path / "bare.tif")
    assert np.array_equal(picture.pixels, grey)
    assert picture.full == np.iinfo(kind).max


def test_a_tiff_whose_pixels_end_too_early_is_cut_off(tmp_path):
    """The directory may stand before the pixels, so that only their end is missing."""
    raw = bare_tiff(GREY)
    directory = raw[struct.unpack("<I", raw[4:8])[0] :]
    here, there = (struct.pack("<HHII", 273, 4, 1, at) for at in (8, 8 + len(directory)))
    ahead = b"II*\0" + struct.pack("<I", 8) + directory.replace(here, there)
    path = tmp_path / "ahead.tif"
    path.write_bytes(ahead + GREY.tobytes())
    assert np.array_equal(read_picture(path).pixels, GREY)
    path.write_bytes(ahead + GREY.tobytes()[:-500])
    with pytest.raises(UserError, match="cut off or damaged"):
        read_picture(path)


def test_a_picture_that_is_marked_as_lying_on_its_side_is_refused(tmp_path):
    """Upside down or mirrored the scan runs along the rows still; by 90 degrees who knows."""
    for orientation in range(1, 9):
        path = tmp_path / f"{orientation}.tif"
        path.write_bytes(bare_tiff(GREY, orientation=orientation))
        image = Image.fromarray(GREY)
        exif = image.getexif()
        exif[0x0112] = orientation
        image.save(tmp_path / f"{orientation}.jpg", exif=exif)
        for suffix in ("tif", "jpg"):
            if orientation < 5:
                assert read_picture(tmp_path / f"{orientation}.{suffix}").shape == GREY.shape
            else:
                with pytest.raises(UserError, match="turns it by 90 degrees"):
                    read_picture(tmp_path / f"{orientation}.{suffix}")


@pytest.mark.parametrize("kind", [np.int8, np.int16])
def test_numbers_with_a_sign_are_moved_up(kind, tmp_path):
    grey = (GREY.astype(int) - 128) * (1 if kind is np.int8 else 256)
    (tmp_path / "signed.tif").write_bytes(bare_tiff(grey.astype(kind), sample=2))
    pixels = read_picture(tmp_path / "signed.tif").pixels.astype(int)
    assert np.array_equal(pixels // (1 if kind is np.int8 else 256), GREY)


def test_a_small_copy_beside_the_picture_is_no_second_picture(tmp_path):
    """As microscopes save for lists of pictures; any other second picture is asked about."""
    image, copy = Image.fromarray(GREY), Image.fromarray(GREY[::4, ::4])
    for name, marked in (("copy.tif", 1), ("two.tif", 0)):
        with TiffImagePlugin.AppendingTiffWriter(tmp_path / name, new=True) as file:
            image.save(file, format="TIFF")
            file.newFrame()
            copy.save(file, format="TIFF", tiffinfo={254: marked})
    assert np.array_equal(read_picture(tmp_path / "copy.tif").pixels, GREY)
    with pytest.raises(UserError, match="it holds 2 pictures"):
        read_picture(tmp_path / "two.tif")
